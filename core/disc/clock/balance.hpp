// SPDX-License-Identifier: Apache-2.0
// The level at which the running digital sum is zero, and the local clock. Once each run's nominal length is known,
// lands and pits that are too long or too short by the same time tell how far the slicing level is off; windows of half
// a frame follow slow wander. Edges are moved to that level. Times in samples, levels in codes.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "core/disc/clock/recovery.hpp"
#include "core/disc/clock/slicer.hpp"

namespace eyelevel::disc::clock {

struct Balance {
  std::vector<double> level;    // at each edge
  std::vector<double> period;   // local channel bit at each edge, samples
  std::optional<double> slice;  // mean level over locked edges
};

// Whether run k lies inside a stretch and is 3T to 11T long; as a mask over runs (the last entry is always false).
std::vector<std::uint8_t> legal_runs(const Lattice& lattice, std::size_t edges);

// Afterwards the edges are sliced at the balanced level.
Balance balance(const signal::CodesView& codes, double hysteresis, const Lattice& lattice, Edges& edges);

}  // namespace eyelevel::disc::clock
