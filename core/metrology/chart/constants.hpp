// SPDX-License-Identifier: Apache-2.0
// Constants of control charts for samples of n normal values, computed from their definitions (NIST/SEMATECH e-Handbook
// 6.3.2): what a range, and a standard deviation, of n values is to the true standard deviation. Eight digits.
#pragma once

#include <cstddef>

namespace eyelevel::metrology::chart {

struct Constants {
  double d2 = 0, d3 = 0;                 // mean and standard deviation of the range, in sigma
  double c4 = 0;                         // mean of the experimental standard deviation, in sigma
  double mean_by_range = 0;              // A2 = 3/(d2 sqrt(n)): limits of averages, in mean ranges
  double mean_by_sd = 0;                 // A3 = 3/(c4 sqrt(n)): the same in mean standard deviations
  double range_low = 0, range_high = 0;  // D3, D4: limits of ranges, in mean ranges
  double sd_low = 0, sd_high = 0;        // B3, B4: limits of standard deviations, in mean ones
};

// 2 to 100 values; Error(bad_input) else. Some milliseconds.
Constants constants_for(std::size_t n);

}  // namespace eyelevel::metrology::chart
