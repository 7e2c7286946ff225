// SPDX-License-Identifier: Apache-2.0
// Waveform files, whichever the format (npy.hpp, wav.hpp, csv.hpp, raw.hpp): as a stream, or as a whole with its
// samples either left where the caller's bytes are (no copy) or owned. Bytes are untrusted: every failure is an
// Error(bad_input) that names the file, the byte or line, what was there and what would be right. Ownership: while
// samples_are_borrowed(), the bytes that were read must stay (a base::MappedFile, for instance).
#pragma once

#include <cstddef>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <variant>
#include <vector>

#include "core/signal/sample_stream.hpp"
#include "core/signal/waveform.hpp"

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

class StoredWaveform {
 public:
  explicit StoredWaveform(Waveform owned, std::vector<std::string> assumed = {})
      : held_(std::move(owned)), assumed_(std::move(assumed)) {}
  explicit StoredWaveform(WaveformView borrowed, std::vector<std::string> assumed = {})
      : held_(borrowed), assumed_(std::move(assumed)) {}

  WaveformView view() const {
    if (const auto* owned = std::get_if<Waveform>(&held_)) return owned->view();
    return std::get<WaveformView>(held_);
  }
  bool samples_are_borrowed() const { return std::holds_alternative<WaveformView>(held_); }
  // As SampleStream::assumed().
  const std::vector<std::string>& assumed() const { return assumed_; }

 private:
  std::variant<Waveform, WaveformView> held_;
  std::vector<std::string> assumed_;
};

std::string rate_text(double rate_hz);  // "20 MSa/s", "44.1 kSa/s"

// Bare samples where a format is given, else .npy and WAV by their first bytes, everything else as CSV.
std::unique_ptr<SampleStream> open_waveform(std::span<const std::byte> bytes, const ReadOptions& options,
                                            Release release = {});

// All blocks of a stream that has given none yet.
StoredWaveform read_whole(SampleStream& stream);

}  // namespace eyelevel::signal
