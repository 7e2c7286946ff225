// SPDX-License-Identifier: Apache-2.0
// Which values do not belong to a normal population: the generalised extreme studentised deviate test (NIST/SEMATECH
// e-Handbook 1.3.5.17.3), which a second outlier does not mask. Values are first rejected by cause (clipped, unlocked);
// this is for what is left. It says which; raw values are kept by the caller. Meant for 25 values or more.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace eyelevel::metrology {

struct Outliers {
  std::vector<std::size_t> places;  // of the outliers among the values, farthest first; counted from 0
  std::vector<double> statistic;    // R_1 .. R_r
  std::vector<double> critical;     // lambda_1 .. lambda_r
};

// At most `most` outliers (at least 1; most + 2 values or more), at significance `alpha`, two-sided.
Outliers extreme_deviates(std::span<const double> values, std::size_t most, double alpha = 0.05);

}  // namespace eyelevel::metrology
