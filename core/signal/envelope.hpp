// SPDX-License-Identifier: Apache-2.0
// Outlines of a waveform: the distance between two quantiles, and smallest and largest per column for drawing. Neither
// is the level of an eye (core/disc): a quantile envelope of a sine with noise reads high at small p and low at large
// p, so p belongs to the result. Pure; any thread.
#pragma once

#include <cstddef>
#include <vector>

#include "core/signal/histogram.hpp"

namespace eyelevel::signal {

struct QuantileEnvelope {
  double p = 0;  // low_v has the share p of the samples below it, high_v the share p above it
  double low_v = 0;
  double high_v = 0;

  double distance_v() const { return high_v - low_v; }
};

// 0 <= p < 0.5.
QuantileEnvelope quantile_envelope(const Histogram& histogram, double p);

struct Column {
  double min_v = 0;
  double max_v = 0;
};

// The record in `columns` parts that differ by at most one sample in length; fewer when there are fewer samples.
std::vector<Column> envelope_columns(const WaveformView& waveform, std::size_t columns);

}  // namespace eyelevel::signal
