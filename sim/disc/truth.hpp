// SPDX-License-Identifier: Apache-2.0
// What a perfect instrument would find in a rendered stream without noise, from the edges and the blurred step in
// closed form, never from samples. Levels are on the renderer's scale: land +1, pit -1. Pure functions.
#pragma once

#include <cstddef>

#include "sim/disc/channel_stream.hpp"
#include "sim/disc/renderer.hpp"

namespace eyelevel::sim {

struct SettledLevels {
  std::size_t lands = 0, pits = 0;                    // 11T runs that lie wholly in the window, away from its ends
  double land = 1, pit = -1;                          // mean over the central part of all 11T lands, pits
  double peak_to_peak() const { return land - pit; }  // 2 if all were settled
};
// Central part in T, 0 to 11: 5 is what lies 3T and more from both edges, where a spot of usual size has settled to
// about 1 % only (peak-to-peak 0.4 % low at I3/I11 0.5); 2 is within 0.01 %; 0 is the centre alone. Edge jitter is left
// out. The window should hold at least a few frames; without an 11T run the levels are +1 and -1.
SettledLevels settled_levels(const EdgeWindow& window, const EyeShape& shape, double central_t = 5);

// Mean of the signal over [from_bit, until_bit), which must lie in the window.
double mean_level(const EdgeWindow& window, const EyeShape& shape, double from_bit, double until_bit);

// I3 and asymmetry (ECMA-130 12.3) of the same stream, 3T runs taken at their centre.
struct ShortRunLevels {
  std::size_t lands = 0, pits = 0;
  double land = 0, pit = 0;  // mean over all 3T lands, pits
};
ShortRunLevels short_run_levels(const EdgeWindow& window, const EyeShape& shape);

}  // namespace eyelevel::sim
