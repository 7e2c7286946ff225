// SPDX-License-Identifier: Apache-2.0
#include "core/disc/audio/sound.hpp"

#include <algorithm>
#include <cmath>
#include <string_view>

namespace eyelevel::disc::audio {
namespace {

constexpr std::size_t pairs_at_once = 1024;

void put(std::vector<std::uint8_t>& out, std::string_view text) { out.insert(out.end(), text.begin(), text.end()); }

void put(std::vector<std::uint8_t>& out, std::uint32_t value, int bytes) {  // low byte first
  for (int k = 0; k < bytes; ++k) out.push_back(static_cast<std::uint8_t>(value >> (8 * k)));
}

}  // namespace

void SoundBuilder::push(const circ::F1Frame& frame, std::uint32_t bad) {
  for (std::size_t w = 0; w < samples_a_frame; ++w) {
    const auto sample = static_cast<std::int16_t>(frame[2 * w] << 8 | frame[2 * w + 1]);
    put(sample, (bad >> (2 * w) & 3U) != 0, w % channels);
  }
  give(pairs_at_once);
}

void SoundBuilder::skip(std::int64_t frames) {
  constexpr std::uint32_t all = 0xFFFFFF;
  for (std::int64_t k = 0; k < frames; ++k) push({}, all);
}

void SoundBuilder::end() {
  for (std::size_t channel = 0; channel < channels; ++channel) hold_open(channel);
  give(1);
}

void SoundBuilder::put(std::int16_t sample, bool is_bad, std::size_t channel) {
  Channel& c = channel_[channel];
  if (is_bad) {
    samples_.push_back(c.level);
    if (c.holds) {
      ++counts_.held;
    } else if (++c.open > interpolated_most) {
      hold_open(channel);
      c.holds = true;
    }
    return;
  }
  samples_.push_back(sample);
  if (c.open > 0) {
    const double left = c.level, step = (sample - left) / static_cast<double>(c.open + 1);
    for (std::int64_t k = c.open; k > 0; --k) {
      back(channel, k) = static_cast<std::int16_t>(std::lround(left + step * static_cast<double>(c.open - k + 1)));
    }
  }
  counts_.interpolated += c.open;
  c = {.level = sample, .holds = false, .open = 0};
}

// Each stands at the level already.
void SoundBuilder::hold_open(std::size_t channel) {
  counts_.held += channel_[channel].open;
  channel_[channel].open = 0;
}

std::int16_t& SoundBuilder::back(std::size_t channel, std::int64_t before) {
  const std::size_t last = samples_.size() - 1 - (samples_.size() - 1 + channels - channel) % channels;
  return samples_[last - static_cast<std::size_t>(before * channels)];
}

// What is certain, once there is so much of it.
void SoundBuilder::give(std::size_t pairs) {
  const auto open = static_cast<std::size_t>(std::max(channel_[0].open, channel_[1].open));
  const std::size_t certain = samples_.size() / channels - open;
  if (certain < pairs) return;
  const auto end = samples_.begin() + static_cast<std::ptrdiff_t>(certain * channels);
  sink_(std::span(samples_.begin(), end));
  counts_.sample_pairs += static_cast<std::int64_t>(certain);
  samples_.erase(samples_.begin(), end);
}

std::vector<std::uint8_t> write_raw(std::span<const std::int16_t> samples) {
  std::vector<std::uint8_t> out;
  out.reserve(2 * samples.size());
  for (const std::int16_t sample : samples) put(out, static_cast<std::uint16_t>(sample), 2);
  return out;
}

std::vector<std::uint8_t> wav_header(std::uint64_t data_bytes) {
  constexpr std::uint32_t block_bytes = 2 * channels;
  const auto size = static_cast<std::uint32_t>(data_bytes);
  std::vector<std::uint8_t> out;
  put(out, "RIFF");
  put(out, static_cast<std::uint32_t>(wav_header_bytes - 8) + size, 4);
  put(out, "WAVEfmt ");
  put(out, 16, 4);  // bytes of the format
  put(out, 1, 2);   // WAVE_FORMAT_PCM
  put(out, channels, 2);
  put(out, rate_hz, 4);
  put(out, rate_hz * block_bytes, 4);
  put(out, block_bytes, 2);
  put(out, 16, 2);  // bits a sample
  put(out, "data");
  put(out, size, 4);
  return out;
}

}  // namespace eyelevel::disc::audio
