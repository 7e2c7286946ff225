// SPDX-License-Identifier: Apache-2.0
// Waveforms as text, as oscilloscopes write them to a memory stick: any heading within the first 256 lines, columns
// parted by semicolon, tab, comma or blanks, numbers with a decimal point or comma, a column of times or the sample
// interval in the heading or beside, one or more channels. How the text was read stands in SampleStream::assumed().
// Empty lines and lines that begin with # are passed over. Bad lines are named with line and column, bad values with
// the sample (counted from 0). The pieces are csv_text.hpp, csv_layout.hpp, csv_heading.hpp and csv_times.hpp.
#pragma once

#include <memory>
#include <string>
#include <string_view>

#include "core/signal/stored.hpp"

namespace eyelevel::signal {

// The first of several columns is time where its name or unit says so, or where nothing says otherwise. The rate comes
// from the first and last time; each time must lie within 0.4 samples of even spacing and each step within 0.75 of the
// usual one, the median of the first 65,535: which of them is refused shows when the last is read. A rate given beside
// the times must agree with them within 1 %, and then counts. Without times the rate given beside counts, else the
// heading's.
// Volts come by the unit that the heading names (V if none); a scale given beside is used instead, an offset added.
std::unique_ptr<SampleStream> open_csv(std::string_view text, const ReadOptions& options, Release release = {});

// Heading "time_s,volts", one line per sample; times start at 0. Reads back to the same floats.
std::string write_csv(const WaveformView& waveform);

}  // namespace eyelevel::signal
