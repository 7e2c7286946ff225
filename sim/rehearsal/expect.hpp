// SPDX-License-Identifier: Apache-2.0
// Expectations beside a sequence: a YAML file that says how it must end with this seed and these troubles. Example:
// sequences/expect/pickup-level.yaml. Whoever changes a sequence rehearses them as its tests.
#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/yaml/key_table.hpp"
#include "core/yaml/load.hpp"
#include "sim/rehearsal/rehearse.hpp"

namespace eyelevel::sim {

// How each of these units must end; what is empty may be anything.
struct Expectation {
  std::string name{};
  std::uint64_t seed = 1;
  int units = 1;
  std::vector<std::string> troubles{};
  std::map<std::string, std::string> answers{};  // of the operator, by name
  std::string ended{};                           // "finished" or "stopped"
  std::string judgement{};                       // "pass", "fail", "undecided" or "none"
  std::string error{};                           // name of an error code
  std::string told{};                            // stands in what the technician is told
  yaml::Mark mark{};
};

struct Expectations {
  std::string file;
  std::string about;
  std::string sequence;          // path, from the folder of the file
  std::vector<std::string> set;  // NAME=VALUE for what it asks at its start
  std::vector<Expectation> list;

  // As the program is to open it.
  std::string sequence_path() const;
};

struct ExpectationsRead {
  Expectations expectations;  // complete only if `mistakes.fine()`
  yaml::Mistakes mistakes;
};

ExpectationsRead read_expectations(yaml::Document document, const Troubles& troubles);

// Whether the document is meant as expectations: its first key is `expectations`.
bool is_expectations(const yaml::Node& root);

yaml::KeyTable expectations_table();

// Empty when the unit ended as expected and as it must; otherwise one sentence that says what is not so.
std::string what_is_not_met(const Expectation& expected, const UnitOutcome& unit);

}  // namespace eyelevel::sim
