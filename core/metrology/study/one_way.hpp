// SPDX-License-Identifier: Apache-2.0
// Whether groups of readings (of operators, of benches) differ: one-way analysis of variance (NIST/SEMATECH e-Handbook
// 7.4.3), and how far each lies from all others, with intervals that hold together (Bonferroni). Readings in one unit,
// independent of each other, about equally scattered; whose scatter is larger is told, too. Units of different models
// are no groups: take deviations from the model first.
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <vector>

namespace eyelevel::metrology::study {

struct Group {
  std::string name;
  std::vector<double> values;  // two or more
};

struct GroupAgainstOthers {
  std::string name;
  std::size_t count = 0;
  double mean = 0, sd = 0;
  double difference = 0;  // from the mean of all readings of the others
  double half_width = 0;  // of the interval of the difference; all intervals together hold the stated probability
  double scatter_p = 1;   // chance of a scatter so much larger than the others', times the number of groups

  bool is_off() const { return difference > half_width || difference < -half_width; }
};

struct OneWay {
  double between_degrees = 0, between_squares = 0;
  double within_degrees = 0, within_squares = 0;
  double f = 0;                            // infinite where groups differ and nothing scatters within them
  double p = 1;                            // chance of such an F if the groups were alike
  std::vector<GroupAgainstOthers> groups;  // as given
};

// Two groups or more. Error(bad_input): fewer, a group with fewer than two values, values that are not finite.
OneWay one_way(std::span<const Group> groups, double probability = 0.95);

}  // namespace eyelevel::metrology::study
