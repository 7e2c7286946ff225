// SPDX-License-Identifier: Apache-2.0
// Life of many units of which some have not failed yet: Weibull's distribution by maximum likelihood with
// right-censored times (NIST/SEMATECH e-Handbook 8.4.1.3), intervals by the profile of the likelihood, which few
// failures bend less than the usual ones. Hours as the caller counts them.
#pragma once

#include <cstddef>
#include <span>

#include "core/metrology/trend/line.hpp"

namespace eyelevel::metrology::trend {

struct Lived {
  double hours = 0;     // above 0
  bool failed = false;  // false: still alive after these hours
};

struct Weibull {
  double shape = 0;  // above 1: wears out; below 1: early failures; 1: at random
  double scale = 0;  // hours by which 63 % have failed
  double log_likelihood = 0;
  std::size_t failed = 0, count = 0;
  double probability = 0.95;
  Range shape_range, scale_range;  // high is infinite where the data set no upper end below a million times the hours

  double survival(double hours) const;            // share still alive
  double hours_until(double share_failed) const;  // 0.1: the ten per cent life
};

// Error(bad_input): hours not above 0, fewer than two different failure times, probability outside (0, 1).
Weibull weibull_of(std::span<const Lived> lives, double probability = 0.95);

}  // namespace eyelevel::metrology::trend
