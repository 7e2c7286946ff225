// SPDX-License-Identifier: Apache-2.0
// Waveforms as text: "time,volts" per line (seconds, evenly spaced), or one column with the rate given beside. Columns
// are parted by comma, semicolon, tab or blanks; numbers have a decimal point. Up to 64 lines before the first number
// may be headings; empty lines and lines that begin with # are passed over. Bad lines are named with line and column,
// bad values with the sample (counted from 0).
#pragma once

#include <string>
#include <string_view>

#include "core/signal/stored.hpp"

namespace eyelevel::signal {

// The rate comes from the first and last time; each time must lie within 0.4 samples of even spacing. A rate given
// beside the times must agree with them within 1 %, and then counts. Scale and offset are applied where they are given.
StoredWaveform read_csv(std::string_view text, const ReadOptions& options);

// Heading "time_s,volts", one line per sample; times start at 0. Reads back to the same floats.
std::string write_csv(const WaveformView& waveform);

}  // namespace eyelevel::signal
