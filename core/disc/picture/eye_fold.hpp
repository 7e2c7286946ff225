// SPDX-License-Identifier: Apache-2.0
// The eye as an oscilloscope shows it that is triggered at each crossing of the slicing level, both ways: samples
// counted by voltage and by channel bits since the edge, so that each run length ends at a place of its own. Counts add
// up over any number of calls in memory that does not grow. For a picture; what measures is in core/disc/eye.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "core/disc/eye/runs.hpp"
#include "core/signal/waveform.hpp"

namespace eyelevel::disc::picture {

// Rows go upwards in voltage from low_v, columns from `bits_before` channel bits before the edge.
struct EyeDensity {
  static constexpr std::size_t columns_per_bit = 20;
  static constexpr std::size_t bits_before = 1;
  static constexpr std::size_t bits_after = 12;
  static constexpr std::size_t columns = (bits_before + bits_after) * columns_per_bit;

  std::size_t rows = 0;
  double low_v = 0;                   // lower edge of row 0
  double step_v = 0;                  // height of a row
  std::vector<std::uint64_t> counts;  // row * columns + column
  std::uint64_t edges = 0;            // laid upon each other

  double high_v() const { return low_v + step_v * static_cast<double>(rows); }
};

class EyeFold {
 public:
  // Volts of a code come from the scale and offset of `scale`, whose samples are not looked at. Shows low_v to high_v,
  // low below high; rows are whole codes where samples are codes.
  EyeFold(const signal::WaveformView& scale, double low_v, double high_v);

  // Start, end and period of runs count in samples from the first of `samples`. Runs whose edge or period is no number
  // are passed over, and so are samples outside the voltages shown. About 2.6 visits to a sample.
  void take(const signal::CodesView& samples, std::span<const eye::Run> runs);

  const EyeDensity& result() const { return density_; }

 private:
  double scale_v_, offset_v_;
  EyeDensity density_;
};

}  // namespace eyelevel::disc::picture
