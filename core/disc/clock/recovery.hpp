// SPDX-License-Identifier: Apache-2.0
// Edges to channel bits. The clock is found blind from the frame sync of ECMA-130 2nd ed. 19.2 (two runs of 11T, the
// longest there are, again 588 T later) and then followed edge by edge, forwards to the end and backwards to the
// beginning, by a second-order loop that lets rising and falling edges differ (a slicing level that is off). Gaps are
// bridged; where the clock is lost it is looked for again. Times in samples.
#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "core/disc/clock/slicer.hpp"

namespace eyelevel::disc::clock {

// Edges first to last (inclusive) that one lock of the clock numbers without a break.
struct Stretch {
  std::size_t first = 0, last = 0;
};

struct Lattice {
  std::vector<std::int32_t>
      bit;                  // channel bit of each edge; meaningful inside a stretch only, ascending over all of them
  std::vector<float> late;  // how far each edge came after its place, channel bits
  // Of the run that begins with each edge: 3 to 11 channel bits, 0 if it is longer, shorter or not inside a stretch.
  std::vector<std::uint8_t> length;
  std::vector<Stretch> stretches;  // ascending
  double period = 0;               // samples to a channel bit, mean over all stretches

  bool found() const { return !stretches.empty(); }
  // Whether the run that begins with this edge lies inside a stretch.
  bool inside(std::size_t edge) const {
    return std::any_of(stretches.begin(), stretches.end(),
                       [&](const Stretch& s) { return s.first <= edge && edge < s.last; });
  }
};

// The loop is critically damped; with an edge each 4.7 T on average its natural frequency is the root of 4.7 times the
// gain by which an error of one edge changes the period. Above this frequency jitter shows as lateness to more than
// 0.707, below it the clock follows. White jitter shows 1.02 times as large: the clock takes up a little of it.
double loop_bandwidth_hz(double channel_rate_hz);

struct Anchor {
  std::size_t edge = 0;  // first edge of a frame sync
  double period = 0;     // from there to the next one, samples to a channel bit
};

// The first pair of frame syncs that begins in [from, to) with nothing but runs of the channel code between.
std::optional<Anchor> find_anchor(std::span<const double> at, std::size_t from, std::size_t to);

// The vectors of `reuse` are used again.
Lattice recover(const Edges& edges, Lattice reuse = {});
// The first run in [from, to) of this length, or `to`.
std::size_t next_run(std::span<const std::uint8_t> lengths, int length, std::size_t from, std::size_t to);
// First edges of what looks like a frame sync in this stretch.
std::vector<std::size_t> find_syncs(const Lattice& lattice, const Stretch& stretch);

}  // namespace eyelevel::disc::clock
