// SPDX-License-Identifier: Apache-2.0
// What a waveform file gives: a view, with its samples either left where the caller's bytes are (no copy) or owned.
// The formats are npy.hpp and csv.hpp; read_waveform tells them apart. Bytes are untrusted: every failure is an
// Error(bad_input) that names the file, the byte or line, what was there and what would be right.
// Ownership: while samples_are_borrowed(), the bytes that were read must stay (a base::MappedFile, for instance).
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <variant>

#include "core/signal/waveform.hpp"

namespace eyelevel::signal {

// What the user said beside the file.
struct ReadOptions {
  std::string name = "waveform";   // as the user wrote it, for messages
  std::optional<double> rate_hz;   // --rate: samples per second
  std::optional<double> scale_v;   // --scale: volts per code; needed for integer codes
  std::optional<double> offset_v;  // --offset: volts of code 0
};

class StoredWaveform {
 public:
  explicit StoredWaveform(Waveform owned) : held_(std::move(owned)) {}
  explicit StoredWaveform(WaveformView borrowed) : held_(borrowed) {}

  WaveformView view() const {
    if (const auto* owned = std::get_if<Waveform>(&held_)) return owned->view();
    return std::get<WaveformView>(held_);
  }
  bool samples_are_borrowed() const { return std::holds_alternative<WaveformView>(held_); }

 private:
  std::variant<Waveform, WaveformView> held_;
};

// .npy by its first bytes, everything else as CSV.
StoredWaveform read_waveform(std::span<const std::byte> bytes, const ReadOptions& options);

}  // namespace eyelevel::signal
