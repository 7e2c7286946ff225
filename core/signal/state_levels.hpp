// SPDX-License-Identifier: Apache-2.0
// The two state levels of a two-state waveform, by histogram mode and by shorth (the terms of IEEE Std 181). Record and
// values are split at the middle of smallest and largest. Not for the eye: its nine heights are no two states, see
// core/disc. Conventions that the standard leaves open are ours: the shorth holds floor(n/2) + 1 values of a half; the
// first of equally full bins, and of equally narrow windows, counts. Refused with Error(bad_input): no two states.
#pragma once

#include <cstddef>
#include <span>

#include "core/signal/histogram.hpp"

namespace eyelevel::signal {

struct StateLevels {
  double low_v = 0;
  double high_v = 0;

  double amplitude_v() const { return high_v - low_v; }
  // The level that lies the given share (0.1, 0.5, 0.9 ...) of the amplitude above the low state.
  double reference_v(double share) const { return low_v + share * amplitude_v(); }
};

// Centre of the fullest bin of either half. Integer waveforms: bin = code.
StateLevels state_levels_by_mode(const Histogram& histogram);
StateLevels state_levels_by_mode(const WaveformView& waveform, std::size_t bins = 256);

struct Shorth {
  StateLevels by_mean;      // mean of the values in the narrowest window
  StateLevels by_midpoint;  // middle of that window
};

// Sorts a copy of the values: n log n.
Shorth state_levels_by_shorth(std::span<const double> values);

}  // namespace eyelevel::signal
