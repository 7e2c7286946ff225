// SPDX-License-Identifier: Apache-2.0
// A running mean over one channel bit, for records so noisy that single samples cross the slicing level astray: white
// noise falls by the root of the samples to a bit, while the blur of the eye grows by 3 % only. The clock is found on
// the smoothed record; levels and jitter are measured on the samples as they came.
#pragma once

#include <cstddef>
#include <vector>

#include "core/signal/waveform.hpp"

namespace eyelevel::disc::clock {

// The odd number of samples nearest to a channel bit; 1 where there are too few samples for smoothing.
std::size_t smoothing_width(double samples_per_bit);

// Centred mean over `width` samples (odd); near the ends over as many as fit on both sides. One pass.
std::vector<float> smoothed(const signal::CodesView& codes, std::size_t width);

}  // namespace eyelevel::disc::clock
