// SPDX-License-Identifier: Apache-2.0
// From bytes to nodes, strictly. Refused, each with its own message: not UTF-8, control characters, tabs, empty,
// several documents, equal keys, keys that are no text, anchors, aliases, tags, nesting deeper than `depth`, more than
// `bytes`. A comment after an unquoted value: `Insert disc #2` is an error (YAML would keep only "Insert disc"); ` # 2`
// with one space before the # is a warning; two or more spaces before the # are how a comment after a value is written.
// YAML 1.2 as far as yaml-cpp 0.7 goes; this folder is its only user.
#pragma once

#include <cstddef>
#include <filesystem>
#include <string>
#include <string_view>

#include "core/yaml/mistake.hpp"
#include "core/yaml/node.hpp"

namespace eyelevel::yaml {

struct Limits {
  std::size_t bytes = std::size_t{1} << 20U;
  int depth = 32;
  std::size_t mistakes = 200;  // more are not listed
};

struct Document {
  std::string file;  // as it was named
  std::string source;
  Node root;          // shape nothing when it could not be read
  Mistakes mistakes;  // of reading; whoever interprets the document adds to them
};

// A file that cannot be opened or is too large is a mistake at 1:1 (its size is looked at before it is read).
Document load_file(const std::filesystem::path& path, const Limits& limits = {});
Document load_text(std::string file_name, std::string_view text, const Limits& limits = {});

}  // namespace eyelevel::yaml
