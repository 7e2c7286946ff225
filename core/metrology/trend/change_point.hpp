// SPDX-License-Identifier: Apache-2.0
// Whether the mean of a series changed once, and where: the split with the largest two-sample t. The largest of many t
// is larger than one t, so its chance comes from simulated series without a change. Before a change is called drift,
// look for a changed instrument, probe, disc or operator at that place.
#pragma once

#include <cstddef>
#include <span>

namespace eyelevel::metrology::trend {

struct ChangePoint {
  std::size_t after = 0;  // number of values before the change
  double mean_before = 0, mean_after = 0;
  double pooled_sd = 0;  // about the two means
  double largest_t = 0;  // without sign; infinite where both parts are constant
  double chance = 1;  // of a largest t like this in a normal series without a change; two standard errors: 1 % at 5 %
  std::size_t after_by_sums = 0;  // where the sum of deviations from the mean is farthest from 0: another opinion
};

constexpr std::size_t least_part = 2;  // values on each side of a split

// Four values or more, in the order in which they were taken. Cost: 2000 simulated series of the same length.
ChangePoint change_point(std::span<const double> in_order);

// Chance that `count` independent normal values without a change have a largest t of `t` or more.
double chance_of_largest_t(double t, std::size_t count);

}  // namespace eyelevel::metrology::trend
