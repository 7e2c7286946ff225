// SPDX-License-Identifier: Apache-2.0
// Samples that lie in a file's bytes, every `stride` bytes, taken as a waveform: left where they lie when a view can
// name them (int8, int16 and float, little-endian, close together, aligned), copied otherwise. Unsigned codes become
// signed ones and the offset takes up the difference; double becomes float; 24 bits become a float without loss.
#pragma once

#include <algorithm>
#include <array>
#include <bit>
#include <cstdint>
#include <cstring>
#include <span>
#include <string>
#include <type_traits>
#include <vector>

#include "core/signal/detail/refusal.hpp"
#include "core/signal/stored.hpp"

namespace eyelevel::signal::detail {

static_assert(std::endian::native == std::endian::little, "samples are taken from little-endian files as they lie");

struct Samples {
  std::span<const std::byte> bytes;  // from the first sample on
  std::size_t count = 0;
  std::size_t stride = 0;  // bytes from one sample to the next
  WaveformView about;      // rate, scale and offset of the file's numbers; no codes
};

// Three bytes, little-endian.
struct Int24 {
  std::array<std::uint8_t, 3> raw;
  explicit operator float() const {
    const int value = raw[0] | raw[1] << 8 | raw[2] << 16;
    return static_cast<float>(value >= 1 << 23 ? value - (1 << 24) : value);
  }
};
static_assert(sizeof(Int24) == 3);

// What a Sample is held as.
template <class Sample>
using Held =
    std::conditional_t<sizeof(Sample) == 1, std::int8_t,
                       std::conditional_t<std::is_integral_v<Sample> && sizeof(Sample) == 2, std::int16_t, float>>;

template <class Sample, std::endian order = std::endian::little>
StoredWaveform hold(const Samples& samples, const ReadOptions& options, std::vector<std::string> assumed) {
  constexpr bool is_unsigned = std::is_unsigned_v<Sample>;
  // As far as the first of the unsigned codes must be moved to be the first of the signed ones.
  constexpr int middle = is_unsigned ? 1 << (8 * sizeof(Sample) - 1) : 0;
  WaveformView about = samples.about;
  about.offset_v += middle * about.scale_v;
  if constexpr (std::is_same_v<Sample, Held<Sample>> && order == std::endian::little) {
    const bool is_aligned = reinterpret_cast<std::uintptr_t>(samples.bytes.data()) % alignof(Sample) == 0;
    if (samples.stride == sizeof(Sample) && is_aligned) {
      const std::span<const Sample> there(reinterpret_cast<const Sample*>(samples.bytes.data()), samples.count);
      if constexpr (std::is_floating_point_v<Sample>) {
        for (std::size_t i = 0; i < there.size(); ++i) require_voltage(there[i], i, options);
      }
      about.codes = there;
      return StoredWaveform(about, std::move(assumed));
    }
  }
  std::vector<Held<Sample>> copy(samples.count);
  for (std::size_t i = 0; i < copy.size(); ++i) {
    std::array<std::byte, sizeof(Sample)> raw;
    std::memcpy(raw.data(), samples.bytes.data() + i * samples.stride, raw.size());
    if constexpr (order == std::endian::big) std::reverse(raw.begin(), raw.end());
    const auto sample = std::bit_cast<Sample>(raw);
    if constexpr (std::is_floating_point_v<Sample>) require_voltage(sample, i, options);
    if constexpr (is_unsigned)
      copy[i] = static_cast<Held<Sample>>(sample - middle);
    else
      copy[i] = static_cast<Held<Sample>>(sample);
  }
  return StoredWaveform(Waveform{.codes = std::move(copy),
                                 .rate_hz = about.rate_hz,
                                 .scale_v = about.scale_v,
                                 .offset_v = about.offset_v,
                                 .screen = {},
                                 .start_s = 0},
                        std::move(assumed));
}

}  // namespace eyelevel::signal::detail
