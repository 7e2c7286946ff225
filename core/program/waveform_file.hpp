// SPDX-License-Identifier: Apache-2.0
// A stored waveform as the command line names it: the mapped file, its samples as a stream, and what was assumed. What
// has been read leaves memory, so that the file may be larger. An .npy that
// `eyelevel export` wrote has a JSON beside it with rate, scale and offset; options on the command line win over it.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/base/mapped_file.hpp"
#include "core/signal/stored.hpp"

namespace eyelevel::program {

struct WaveformReading {
  std::optional<double> rate_hz;
  std::optional<double> scale_v;
  std::optional<double> offset_v;
  std::optional<std::size_t> channel;  // counted from 1
  std::optional<std::string> format;   // of bare samples, as signal::raw_format_named knows it
};

struct WaveformFile {
  base::MappedFile file;
  std::unique_ptr<signal::SampleStream> samples;  // reads the file, which does not move
  std::vector<std::string> assumed;
};

// Throws base::Error(bad_input or not_found).
std::unique_ptr<WaveformFile> open_waveform(const std::string& path, const WaveformReading& reading);

}  // namespace eyelevel::program
