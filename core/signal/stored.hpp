// SPDX-License-Identifier: Apache-2.0
// Waveform files, whichever the format (npy.hpp, wav.hpp, csv.hpp, raw.hpp). Bytes are untrusted: every failure is an
// Error(bad_input) that names the file, the byte or line, what was there and what would be right.
#pragma once

#include <cstddef>
#include <memory>
#include <optional>
#include <span>
#include <string>

#include "core/signal/sample_stream.hpp"

namespace eyelevel::signal {

// How bare samples are written. Those of several bytes name the order of the bytes.
enum class RawFormat { int8, uint8, int16le, int16be, uint16le, uint16be, float32le, float32be, float64le, float64be };

// What the user said beside the file.
struct ReadOptions {
  std::string name = "waveform";       // as the user wrote it, for messages
  std::optional<double> rate_hz;       // --rate: samples per second
  std::optional<double> scale_v;       // --scale: volts per code; needed for integer codes
  std::optional<double> offset_v;      // --offset: volts of code 0
  std::optional<std::size_t> channel;  // --channel: counted from 1; the first if empty
  std::optional<RawFormat> format;     // --format: bare samples, whatever the file looks like
};

std::string rate_text(double rate_hz);  // "20 MSa/s", "44.1 kSa/s"

// Bare samples where a format is given, else .npy and WAV by their first bytes, everything else as CSV.
std::unique_ptr<SampleStream> open_waveform(std::span<const std::byte> bytes, const ReadOptions& options,
                                            Release release = {});

}  // namespace eyelevel::signal
