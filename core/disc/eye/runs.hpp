// SPDX-License-Identifier: Apache-2.0
// Runs that measures may use: inside a lock of the clock, of a legal length as their neighbours are, and not where the
// eye is dimmed by a spot, a scratch or lost focus. Times in samples, levels in codes.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>

#include "core/disc/clock/balance.hpp"
#include "core/disc/clock/recovery.hpp"
#include "core/disc/clock/slicer.hpp"
#include "core/disc/clock/survey.hpp"

namespace eyelevel::disc::eye {

struct Run {
  double start = 0, end = 0;  // edges
  float period = 0;           // local channel bit
  float level = 0;            // slicing level at its beginning
  std::int32_t length = 0;    // 3 to 11
  bool high = false;          // more volts per code sign; not yet land or pit
  float late = 0;             // how far its first edge came after the recovered clock, channel bits

  double middle() const { return 0.5 * (start + end); }
};

// Gives the usable runs that begin in [from, to) samples, some hundred at a time, so that what is done with them finds
// them in the cache. What it reads must stay.
class UsableRuns {
 public:
  UsableRuns(const clock::Edges& edges, const clock::Lattice& lattice, const clock::LocalClock& local,
             const clock::Survey& survey, double from, double to);

  // Valid until the next call; empty at the end.
  std::span<const Run> next();

 private:
  bool is_usable(std::size_t k) const;

  const clock::Edges& edges_;
  const clock::Lattice& lattice_;
  const clock::LocalClock& local_;
  const clock::Survey& survey_;
  bool any_dimmed_;
  std::size_t edge_, end_;
  std::array<Run, 256> batch_;
};

}  // namespace eyelevel::disc::eye
