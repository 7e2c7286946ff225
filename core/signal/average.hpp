// SPDX-License-Identifier: Apache-2.0
// The average of triggered waveforms, sample by sample: equal length and rate, scales may differ. Noise that is not
// locked to the trigger falls with the square root of the count. Not for readings: core/metrology averages those. One
// object per average; not shared between threads.
#pragma once

#include <cstddef>
#include <vector>

#include "core/signal/waveform.hpp"

namespace eyelevel::signal {

class WaveformAverage {
 public:
  // Refused with Error(bad_input), leaving the average as it was: another length or rate than the first one's, no
  // samples, a sample that is not finite.
  void push(const WaveformView& waveform);

  std::size_t count() const { return count_; }
  // Floats in volts (scale 1, offset 0); without a screen, since clipped parts average to no definite level.
  // Error(bad_input) before the first push.
  Waveform result() const;
  // Standard deviation of one waveform about the average, over all samples, volts; divisor count - 1. Two waveforms or
  // more.
  double noise_sd_v() const;
  void reset();

 private:
  std::size_t count_ = 0;
  double rate_hz_ = 0;
  std::vector<double> mean_v_;
  double squares_ = 0;  // sum over all samples of the squared deviations from their own mean
};

}  // namespace eyelevel::signal
