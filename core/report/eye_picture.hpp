// SPDX-License-Identifier: Apache-2.0
// The eye picture: samples of many captures counted by voltage and by their place within a channel bit. The place comes
// from the crossings of the slice level: their mean phase over short blocks, so that a slow error of the rate does not
// smear the picture. For a picture only; the channel clock that measures is in core/disc/clock.
#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

#include "core/signal/waveform.hpp"

namespace eyelevel::report {

// Rows go upwards in voltage from low_v; columns run through one channel bit, transitions at its two ends.
struct EyePicture {
  std::size_t columns = 0;
  std::size_t rows = 0;
  double low_v = 0;                      // lower edge of row 0
  double step_v = 0;                     // height of a row
  std::vector<std::uint32_t> counts;     // row * columns + column
  std::vector<std::uint64_t> histogram;  // all samples by row, folded or not
  std::uint64_t folded = 0;              // samples in the picture
  int captures = 0;                      // of which they come

  std::uint32_t at(std::size_t row, std::size_t column) const { return counts[row * columns + column]; }
  double high_v() const { return low_v + step_v * static_cast<double>(rows); }
  // A count that only one cell in a hundred passes (of those not empty); 1 at least. For the darkest tone.
  std::uint32_t dense_count() const;
};

struct EyeClock {
  double channel_rate_hz = 0;  // channel bits per second, above 0
  double slice_v = 0;
};

class EyeFolder {
 public:
  // Volts to be shown, low below high; step_v is the height of a row: a code's step where samples are codes.
  EyeFolder(double low_v, double high_v, double step_v);

  // Adds a capture. Without at least 8 crossings it counts in the histogram only.
  void push(const signal::WaveformView& capture, const EyeClock& clock);
  // Adds to the histogram only: a capture without a clock.
  void push(const signal::WaveformView& capture);

  const EyePicture& result() const { return picture_; }
  void reset();

 private:
  std::size_t row_of(double volts) const;  // rows when outside

  EyePicture picture_;
};

}  // namespace eyelevel::report
