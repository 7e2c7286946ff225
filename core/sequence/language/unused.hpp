// SPDX-License-Identifier: Apache-2.0
// What a sequence names and never uses: warnings, for such a name is mostly a slip. Readings and answers are always of
// use, they stand in the record.
#pragma once

#include <set>
#include <string>
#include <vector>

#include "core/sequence/language/verb.hpp"
#include "core/yaml/mistake.hpp"
#include "core/yaml/node.hpp"

namespace eyelevel::sequence {

// The words of all texts in a node, as names could stand among them.
void add_words(const yaml::Node& node, std::set<std::string>& words);

// Limits, signals and what is asked at the start, whose name is not among the words of the steps (and, for what is
// asked, of the limits).
void report_unused(const Sequence& sequence, const std::set<std::string>& words, yaml::Mistakes& mistakes);

struct NamedResult {
  std::string name;         // as the step writes it
  std::string unique_name;  // in the whole run
  Given given;              // with its place
};
// Captures and averaged waveforms of which nothing is made.
void report_unused(const std::vector<NamedResult>& results, const std::set<std::string>& used,
                   yaml::Mistakes& mistakes);

}  // namespace eyelevel::sequence
