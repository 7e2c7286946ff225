// SPDX-License-Identifier: Apache-2.0
// The workshop's test discs, one short YAML file: name, kind, and the mark of the table of contents, by which a disc is
// recognised (`eyelevel analyse` prints it). Discs of one pressing have the same mark. Example:
// examples/test-discs.yaml.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "core/yaml/key_table.hpp"
#include "core/yaml/load.hpp"
#include "core/yaml/mistake.hpp"

namespace eyelevel::bench {

struct TestDisc {
  std::string name;
  std::string mark;
  std::string kind;  // pressed, recordable or rewritable
};

struct TestDiscs {
  std::string file;
  std::vector<TestDisc> list;  // names and marks differ

  // The disc of this mark, or nullptr.
  const TestDisc* find(std::string_view mark) const;
};

struct TestDiscsRead {
  TestDiscs discs;  // complete only if `mistakes.fine()`
  yaml::Mistakes mistakes;
};

TestDiscsRead read_test_discs(const std::filesystem::path& path);
TestDiscsRead read_test_discs(yaml::Document document);

// Whether the document is meant as a list of test discs: its first key is `test discs`.
bool is_test_discs(const yaml::Node& root);

yaml::KeyTable test_discs_table();

}  // namespace eyelevel::bench
