// SPDX-License-Identifier: Apache-2.0
// The level at which the running digital sum is zero, and the local clock. Once each run's nominal length is known,
// lands and pits that are too long or too short by the same time tell how far the slicing level is off; windows of half
// a frame follow slow wander. Edges are moved to that level. Times in samples, levels in codes.
#pragma once

#include <cstddef>
#include <vector>

#include "core/disc/clock/recovery.hpp"
#include "core/disc/clock/slicer.hpp"

namespace eyelevel::disc::clock {

// Local channel bit in samples, one value for so many edges.
struct LocalClock {
  static constexpr std::size_t edges_each = 64;  // even, so that lands and pits are equally many
  std::vector<double> periods;

  double period(std::size_t edge) const { return periods[edge / edges_each]; }
};

// Afterwards the edges lie where the signal crosses the balanced level, which they hold. Without a lock they stay.
LocalClock balance(const signal::CodesView& codes, double hysteresis, const Lattice& lattice, Edges& edges);

}  // namespace eyelevel::disc::clock
