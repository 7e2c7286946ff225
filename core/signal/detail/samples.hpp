// SPDX-License-Identifier: Apache-2.0
// Samples that lie in a file's bytes, every `stride` bytes, as a stream: left where they lie when a view can name them
// (int8, int16 and float, little-endian, close together, aligned), copied block by block otherwise. Unsigned codes
// become signed ones and the offset takes up the difference; double becomes float; 24 bits become a float without loss.
#pragma once

#include <algorithm>
#include <array>
#include <bit>
#include <cstdint>
#include <cstring>
#include <memory>
#include <span>
#include <string>
#include <type_traits>
#include <vector>

#include "core/signal/detail/refusal.hpp"
#include "core/signal/stored.hpp"

namespace eyelevel::signal::detail {

static_assert(std::endian::native == std::endian::little, "samples are taken from little-endian files as they lie");

struct Samples {
  std::span<const std::byte> file;
  std::size_t at = 0;      // byte of the first sample
  std::size_t count = 0;   // above 0
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

template <class Sample, std::endian order>
class SamplesInBytes final : public SampleStream {
 public:
  SamplesInBytes(const Samples& samples, const ReadOptions& options, std::vector<std::string> assumed, Release release)
      : SampleStream(std::move(release)), samples_(samples), options_(options) {
    about_ = samples.about;
    about_.offset_v += middle * about_.scale_v;
    about_.codes = std::span<const Held<Sample>>();
    assumed_ = std::move(assumed);
    if constexpr (std::is_same_v<Sample, Held<Sample>> && order == std::endian::little) {
      const bool is_aligned = reinterpret_cast<std::uintptr_t>(here()) % alignof(Sample) == 0;
      borrowed_ = samples.stride == sizeof(Sample) && is_aligned;
    }
  }

  CodesView next(std::size_t most) override {
    pass(samples_.at + given_ * samples_.stride);
    const std::size_t count = std::min(most, samples_.count - given_);
    if constexpr (std::is_same_v<Sample, Held<Sample>>) {
      if (borrowed_) return borrow(count);
    }
    return copy(std::min(count, block_most));
  }

 private:
  static constexpr bool is_unsigned = std::is_unsigned_v<Sample>;
  // As far as the first of the unsigned codes must be moved to be the first of the signed ones.
  static constexpr int middle = is_unsigned ? 1 << (8 * sizeof(Sample) - 1) : 0;

  const std::byte* here() const { return samples_.file.data() + samples_.at + given_ * samples_.stride; }

  CodesView borrow(std::size_t count) {
    const std::span<const Sample> block(reinterpret_cast<const Sample*>(here()), count);
    if constexpr (std::is_floating_point_v<Sample>) {
      for (std::size_t i = 0; i < count; ++i) require_voltage(block[i], given_ + i, options_);
    }
    given_ += count;
    return block;
  }

  CodesView copy(std::size_t count) {
    copy_.resize(count);
    const std::byte* from = here();
    for (std::size_t i = 0; i < count; ++i) {
      std::array<std::byte, sizeof(Sample)> raw;
      std::memcpy(raw.data(), from + i * samples_.stride, raw.size());
      if constexpr (order == std::endian::big) std::reverse(raw.begin(), raw.end());
      const auto sample = std::bit_cast<Sample>(raw);
      if constexpr (std::is_floating_point_v<Sample>) require_voltage(sample, given_ + i, options_);
      if constexpr (is_unsigned)
        copy_[i] = static_cast<Held<Sample>>(sample - middle);
      else
        copy_[i] = static_cast<Held<Sample>>(sample);
    }
    given_ += count;
    return std::span<const Held<Sample>>(copy_);
  }

  Samples samples_;
  ReadOptions options_;
  std::size_t given_ = 0;
  std::vector<Held<Sample>> copy_;
};

template <class Sample, std::endian order = std::endian::little>
std::unique_ptr<SampleStream> stream_of(const Samples& samples, const ReadOptions& options,
                                        std::vector<std::string> assumed, Release release) {
  return std::make_unique<SamplesInBytes<Sample, order>>(samples, options, std::move(assumed), std::move(release));
}

}  // namespace eyelevel::signal::detail
