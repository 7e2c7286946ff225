// SPDX-License-Identifier: Apache-2.0
// How often each level occurs in a waveform, and what follows from that in the same pass: smallest, largest, mean,
// standard deviation, quantiles. Integer samples are counted by code (bin = code, so no sample lies on a bin edge) and
// scaled once, at the end; floats in equal bins from the smallest to the largest. One pass for int8, two for the
// others. Refused with Error(bad_input): no samples, or a float that is not finite (named by its place, counted from
// 0).
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "core/signal/waveform.hpp"

namespace eyelevel::signal {

// Counts of the codes lowest, lowest + 1, ...; first and last count are above 0.
struct CodeCounts {
  int lowest = 0;
  std::vector<std::uint64_t> counts;

  int highest() const { return lowest + static_cast<int>(counts.size()) - 1; }
};

CodeCounts count_codes(std::span<const std::int8_t> codes);
CodeCounts count_codes(std::span<const std::int16_t> codes);

// counts[i] samples lie about first_v + i * step_v (the centre of the bin), step_v above 0.
struct Histogram {
  double first_v = 0;
  double step_v = 0;
  std::vector<std::uint64_t> counts;
  std::uint64_t total = 0;

  double centre_v(std::size_t bin) const { return first_v + static_cast<double>(bin) * step_v; }
  double low_edge_v() const { return first_v - step_v / 2; }
};

// `bins` (1 or more) matters for floats only. A waveform of equal floats gives one bin of width 1 V.
Histogram histogram(const WaveformView& waveform, std::size_t bins = 256);

struct Summary {
  std::size_t count = 0;
  double min_v = 0;
  double max_v = 0;
  double mean_v = 0;
  double sd_v = 0;  // divisor n - 1; 0 for one sample
};

// Exact for integer codes (integer sums), two passes for floats.
Summary summarise(const WaveformView& waveform);
// From the histogram alone: exact for codes, to half a bin for binned floats.
Summary summarise(const Histogram& histogram);

// The level below which the share p of the samples lies, samples thought evenly spread over their bin. 0 <= p <= 1.
double quantile_v(const Histogram& histogram, double p);

// Share of samples at or beyond an end of the converter: of the screen if it is known, else of the integer type's range
// (its most positive and most negative code); 0 for floats without a screen.
double clipped_share(const WaveformView& waveform);

}  // namespace eyelevel::signal
