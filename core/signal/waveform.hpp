// SPDX-License-Identifier: Apache-2.0
// A record of evenly spaced samples with the scale it was taken with. Codes stay as they came (8 or 16 bit integers, or
// floats) and are scaled once, at the end of an analysis: volts = code * scale_v + offset_v.
// Ownership: a Waveform owns its samples; analysis takes a View. Not for file formats: those are npy.hpp and csv.hpp.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <variant>
#include <vector>

namespace eyelevel::signal {

using Codes = std::variant<std::vector<std::int8_t>, std::vector<std::int16_t>, std::vector<float>>;
using CodesView = std::variant<std::span<const std::int8_t>, std::span<const std::int16_t>, std::span<const float>>;

// The lowest and highest voltage the instrument could convert; samples at or beyond either are clipped.
struct Screen {
  double low_v = 0;
  double high_v = 0;
};

struct WaveformView {
  CodesView codes;
  double rate_hz = 0;  // samples per second, above 0
  double scale_v = 1;  // volts per code, not 0
  double offset_v = 0;
  std::optional<Screen> screen;

  std::size_t size() const {
    return std::visit([](const auto& c) { return c.size(); }, codes);
  }
  double duration_s() const { return static_cast<double>(size()) / rate_hz; }
  double volts(std::size_t i) const {
    return std::visit([&](const auto& c) { return static_cast<double>(c[i]); }, codes) * scale_v + offset_v;
  }
};

struct Waveform {
  Codes codes;
  double rate_hz = 0;
  double scale_v = 1;
  double offset_v = 0;
  std::optional<Screen> screen;
  // Time of the first sample on the run's Timeline, seconds; 0 for stored waveforms.
  double start_s = 0;

  WaveformView view() const {
    return {std::visit([](const auto& c) -> CodesView { return std::span(c); }, codes), rate_hz, scale_v, offset_v,
            screen};
  }
  std::size_t size() const { return view().size(); }
  double duration_s() const { return view().duration_s(); }
};

}  // namespace eyelevel::signal
