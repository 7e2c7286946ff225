// SPDX-License-Identifier: Apache-2.0
// The second-order loop that follows the channel clock edge by edge, from an anchor both ways. It lets rising and
// falling edges differ (a slicing level that is off). Times in samples. Where a clock is to be looked for and where it
// is believed: recovery.hpp.
#pragma once

#include <cstddef>

#include "core/disc/clock/recovery.hpp"

namespace eyelevel::disc::clock {

// Of an error of one edge, into phase, period and how far rising and falling edges differ.
inline constexpr double slow_gain = 0.06, period_gain = 0.00019, shift_gain = 0.01;

// From the anchor on both ways until the clock is lost or an edge of [first, last] is reached. Writes the bits,
// lateness and lengths (whatever they are, as far as a byte goes) of the edges on the way.
Stretch follow(const Edges& edges, const Anchor& anchor, std::size_t first, std::size_t last, Lattice& lattice);

}  // namespace eyelevel::disc::clock
