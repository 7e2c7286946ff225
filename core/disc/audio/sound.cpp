// SPDX-License-Identifier: Apache-2.0
#include "core/disc/audio/sound.hpp"

#include <fmt/format.h>

#include <cmath>
#include <cstddef>
#include <limits>
#include <string_view>

#include "core/base/error.hpp"

namespace eyelevel::disc::audio {
namespace {

// The samples of one channel, `stride` apart, from `first` on; `from` and `to` count samples of the channel.
class Channel {
 public:
  Channel(Sound& sound, std::size_t first) : sound_(sound), first_(first) {}

  void conceal(std::int64_t from, std::int64_t to, std::int64_t end) {
    const bool has_left = from > 0, has_right = to < end;
    if (has_left && has_right && to - from <= interpolated_most) {
      const double left = at(from - 1), step = (at(to) - left) / static_cast<double>(to - from + 1);
      for (std::int64_t i = from; i < to; ++i) {
        at(i) = static_cast<std::int16_t>(std::lround(left + step * static_cast<double>(i - from + 1)));
      }
      sound_.interpolated += to - from;
      return;
    }
    const std::int16_t level = has_left ? at(from - 1) : has_right ? at(to) : std::int16_t{0};
    for (std::int64_t i = from; i < to; ++i) at(i) = level;
    sound_.held += to - from;
  }

 private:
  std::int16_t& at(std::int64_t i) { return sound_.samples[first_ + static_cast<std::size_t>(i * channels)]; }

  Sound& sound_;
  std::size_t first_;
};

void put(std::vector<std::uint8_t>& out, std::string_view text) { out.insert(out.end(), text.begin(), text.end()); }

void put(std::vector<std::uint8_t>& out, std::uint32_t value, int bytes) {  // low byte first
  for (int k = 0; k < bytes; ++k) out.push_back(static_cast<std::uint8_t>(value >> (8 * k)));
}

}  // namespace

void SoundBuilder::push(const circ::F1Frame& frame, std::uint32_t bad) {
  for (std::size_t w = 0; w < samples_a_frame; ++w) {
    samples_.push_back(static_cast<std::int16_t>(frame[2 * w] << 8 | frame[2 * w + 1]));
    bad_.push_back((bad >> (2 * w) & 3U) != 0);
  }
}

void SoundBuilder::skip(std::int64_t frames) {
  const std::size_t size = samples_.size() + static_cast<std::size_t>(frames * samples_a_frame);
  samples_.resize(size, 0);
  bad_.resize(size, true);
}

Sound SoundBuilder::result() const {
  Sound sound{.samples = samples_};
  const auto end = static_cast<std::int64_t>(samples_.size()) / channels;
  for (std::size_t first = 0; first < channels; ++first) {
    const auto is_bad = [&](std::int64_t i) { return bad_[first + static_cast<std::size_t>(i * channels)]; };
    Channel channel(sound, first);
    for (std::int64_t i = 0; i < end; ++i) {
      if (!is_bad(i)) continue;
      const std::int64_t from = i;
      while (i < end && is_bad(i)) ++i;
      channel.conceal(from, i, end);
    }
  }
  return sound;
}

std::vector<std::uint8_t> write_raw(std::span<const std::int16_t> samples) {
  std::vector<std::uint8_t> out;
  out.reserve(2 * samples.size());
  for (const std::int16_t sample : samples) put(out, static_cast<std::uint16_t>(sample), 2);
  return out;
}

std::vector<std::uint8_t> write_wav(std::span<const std::int16_t> samples) {
  constexpr std::uint32_t header_bytes = 36, block_bytes = 2 * channels;  // header counted from behind the RIFF size
  if (samples.size() > (std::numeric_limits<std::uint32_t>::max() - header_bytes) / 2) {
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("{} samples are too many for a WAV file, which ends at 4 GiB", samples.size()),
                      "give a shorter capture");
  }
  const auto data_bytes = static_cast<std::uint32_t>(2 * samples.size());
  std::vector<std::uint8_t> out;
  out.reserve(header_bytes + 8 + data_bytes);
  put(out, "RIFF");
  put(out, header_bytes + data_bytes, 4);
  put(out, "WAVEfmt ");
  put(out, 16, 4);  // bytes of the format
  put(out, 1, 2);   // WAVE_FORMAT_PCM
  put(out, channels, 2);
  put(out, rate_hz, 4);
  put(out, rate_hz * block_bytes, 4);
  put(out, block_bytes, 2);
  put(out, 16, 2);  // bits a sample
  put(out, "data");
  put(out, data_bytes, 4);
  for (const std::int16_t sample : samples) put(out, static_cast<std::uint16_t>(sample), 2);
  return out;
}

}  // namespace eyelevel::disc::audio
