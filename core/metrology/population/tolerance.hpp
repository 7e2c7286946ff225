// SPDX-License-Identifier: Apache-2.0
// Limits that hold a stated share of a normal population, known from a few of its members only: mean +- k s. Factors k
// are exact (NIST/SEMATECH e-Handbook 7.2.6.3 gives approximations, 0.25 % low at 43 members): two-sided by integrating
// over the mean, one-sided by the noncentral t distribution. Known to eight digits; half a millisecond.
#pragma once

#include <cstddef>

namespace eyelevel::metrology::population {

// What the limits are to do: hold `share` of the population in `confidence` of all cases. Both in (0, 1).
struct Stated {
  double share = 0.95;
  double confidence = 0.95;
};

// For `count` members, 2 or more. Error(bad_input) else.
double tolerance_factor_two_sided(std::size_t count, const Stated& stated);
double tolerance_factor_one_sided(std::size_t count, const Stated& stated);

// The other way round: how sure mean +- factor s holds `share` of the population. factor above 0.
double tolerance_confidence(std::size_t count, double share, double factor);

}  // namespace eyelevel::metrology::population
