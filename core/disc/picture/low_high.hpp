// SPDX-License-Identifier: Apache-2.0
// The lowest and highest sample of each stretch of a record, for a picture of it whatever its length: stretches grow
// by doubling, so that memory does not. Measures of the envelope are in core/disc/envelope.
#pragma once

#include <cstddef>
#include <vector>

#include "core/signal/waveform.hpp"

namespace eyelevel::disc::picture {

struct LowHighPoint {
  double start_s = 0;  // of the stretch, from the first sample
  double low_v = 0, high_v = 0;
};

class LowHigh {
 public:
  static constexpr std::size_t points_most = 1024;

  // Rate, scale and offset; samples of `scale` are not looked at.
  explicit LowHigh(const signal::WaveformView& scale);

  // The next samples. Blocks of any size give the same result; samples that are no number are passed over.
  void take(const signal::CodesView& samples);
  // At most points_most; stretches without a finite sample are left out.
  std::vector<LowHighPoint> result() const;

 private:
  struct Stretch {
    double low, high;  // in codes; low above high where there is no sample
  };
  void halve();

  double rate_hz_, scale_v_, offset_v_;
  std::size_t per_stretch_ = 16;  // about a run at usual rates: less would follow the runs themselves
  std::size_t taken_ = 0;
  std::vector<Stretch> stretches_;
};

}  // namespace eyelevel::disc::picture
