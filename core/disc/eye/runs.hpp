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

// Successive runs, high and low in turn, as rows that kernels go along; those of length 0 are to be left out.
struct Runs {
  static constexpr std::size_t most = 512;

  std::span<const double> start, end;    // edges
  std::span<const std::uint8_t> length;  // 3 to 11, or 0
  std::span<const float> period;         // local channel bit
  std::span<const float> level, late;    // as in Run
  bool first_high = true;

  std::size_t size() const { return start.size(); }
  bool high(std::size_t k) const { return ((k & 1) == 0) == first_high; }
  double middle(std::size_t k) const { return 0.5 * (start[k] + end[k]); }
  Run operator[](std::size_t k) const {
    return {start[k], end[k], period[k], level[k], static_cast<std::int32_t>(length[k]), high(k), late[k]};
  }
};

// Gives the runs that begin in [from, to) samples, some hundred at a time, so that what is done with them finds them in
// the cache; those that are not usable have length 0. What it reads must stay.
class UsableRuns {
 public:
  UsableRuns(const clock::Edges& edges, const clock::Lattice& lattice, const clock::LocalClock& local,
             const clock::Survey& survey, double from, double to);

  // Valid until the next call; empty at the end.
  Runs next();

 private:
  void leave_out_spoilt(std::size_t first, std::size_t count);
  void leave_out_dimmed(std::size_t first, std::size_t count);

  const clock::Edges& edges_;
  const clock::Lattice& lattice_;
  const clock::LocalClock& local_;
  const clock::Survey& survey_;
  bool any_dimmed_;
  std::size_t edge_, end_;
  std::array<std::uint8_t, Runs::most> length_;
  std::array<float, Runs::most> period_;
};

}  // namespace eyelevel::disc::eye
