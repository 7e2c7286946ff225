// SPDX-License-Identifier: Apache-2.0
// Runs that measures may use: inside a lock of the clock, of a legal length as their neighbours are, and not where the
// eye is dimmed by a spot, a scratch or lost focus. Times in samples, levels in codes.
#pragma once

#include <cstdint>
#include <vector>

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

  double middle() const { return 0.5 * (start + end); }
};

std::vector<Run> usable_runs(const clock::Edges& edges, const clock::Lattice& lattice, const clock::Balance& balance,
                             const clock::Survey& survey);

}  // namespace eyelevel::disc::eye
