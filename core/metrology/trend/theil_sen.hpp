// SPDX-License-Identifier: Apache-2.0
// A line that a few wild readings do not move: the median of the slopes of all pairs (Theil, Sen 1968), with Sen's
// interval of the slope from Kendall's statistic, ties counted. Pairs at one x are left out. Cost grows with the square
// of the count: 1000 readings are half a million slopes.
#pragma once

#include <span>

#include "core/metrology/trend/line.hpp"

namespace eyelevel::metrology::trend {

struct RobustLine {
  double intercept = 0;  // median of y minus slope times median of x
  double slope = 0;
  Range slope_range;
};

// Three readings or more, at two places or more; Error(bad_input) else, and on values that are not finite.
RobustLine theil_sen(std::span<const double> x, std::span<const double> y, double probability = 0.95);

}  // namespace eyelevel::metrology::trend
