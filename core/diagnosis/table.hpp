// SPDX-License-Identifier: Apache-2.0
// The table of likelihoods: P(value | cause) for each cause and evidence, and P(cause). likelihoods.txt says how a
// line is written; it is built into the program.
#pragma once

#include <cstddef>
#include <string_view>
#include <vector>

namespace eyelevel::diagnosis {

struct Row {
  std::vector<double> probability;  // of each value of the evidence, in the order of names.cpp; sums to 1, none is 0
  bool is_counted = false;          // in rehearsals; otherwise it is judgement
};

struct Table {
  std::vector<double> prior;           // by cause, in the order of names.cpp; sums to 1
  std::vector<std::vector<Row>> rows;  // [cause][evidence]
  // By evidence, 0..1: how much of it counts beside the others. Evidences that look at the same thing are not
  // independent; where each counted in full the belief would be too sure.
  std::vector<double> weight;
};

// Throws Error(bad_input) with the line: an unknown cause, evidence or value, a value twice or missing, a probability
// that is no number above 0, a line that does not sum to 1 within 0.005 (digits that were rounded away; what is given
// back sums to 1 exactly), a line that stands there twice, one that is missing. An evidence without a line for its
// weight counts in full.
Table read_table(std::string_view text);

// The one that is built in. Throws Error(defect) when it has a mistake.
const Table& standard_table();

namespace detail {
// Written by CMake from likelihoods.txt.
std::string_view likelihoods();
}  // namespace detail

}  // namespace eyelevel::diagnosis
