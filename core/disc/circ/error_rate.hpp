// SPDX-License-Identifier: Apache-2.0
// How sure a rate of errors is that was counted over a short while: the interval of Garwood (1936) for the mean of a
// Poisson count, exact in that it holds the true mean at least as often as stated. Errors that come in bursts scatter
// more than a Poisson count does: for them it is too narrow. Pure functions.
#pragma once

#include <cstdint>

namespace eyelevel::disc::circ {

struct Interval {
  double low = 0, high = 0;
};

// Of the mean number of events where `events` (0 or more) were counted; probability in (0, 1), shared by both sides.
Interval poisson_interval(std::int64_t events, double probability = 0.95);

}  // namespace eyelevel::disc::circ
