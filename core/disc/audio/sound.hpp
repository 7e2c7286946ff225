// SPDX-License-Identifier: Apache-2.0
// F1-frames of an audio track to stereo samples: 16 bit, left and right in turn, 44.1 kHz at 1x (IEC 60908 clause 16:
// six sample pairs a frame, even words left, byte A the upper half). Samples that the code could not vouch for are
// concealed: in a straight line between good neighbours of their channel, held where the line would be long. Not for
// pre-emphasis, which is left in. One SoundBuilder belongs to one thread; what it holds does not grow.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <utility>
#include <vector>

#include "core/disc/analysis.hpp"
#include "core/disc/circ/layout.hpp"

namespace eyelevel::disc::audio {

inline constexpr int rate_hz = 44100;
inline constexpr int channels = 2;
inline constexpr int samples_a_frame = circ::f1_bytes / 2;  // both channels
// Of one channel in a row: two frames, 0.27 ms; over a longer time a straight line is as wrong as anything.
inline constexpr std::int64_t interpolated_most = 12;

class SoundBuilder {
 public:
  // The sink is given samples as they are certain, left and right in turn, both of a pair at once.
  explicit SoundBuilder(SoundSink sink) : sink_(std::move(sink)) {}

  // `bad`: mask of bytes that are not vouched for.
  void push(const circ::F1Frame& frame, std::uint32_t bad);
  // Frames of which nothing is known; they keep their time.
  void skip(std::int64_t frames);
  // Nothing follows: gives what is left.
  void end();
  const Sound& counts() const { return counts_; }

 private:
  // The samples behind the last good one, as far as nothing is decided of them, are the last `open` ones.
  struct Channel {
    std::int16_t level = 0;  // of the last good one; silence before the first
    bool holds = true;       // the next bad ones are held at it
    std::int64_t open = 0;
  };

  void put(std::int16_t sample, bool is_bad, std::size_t channel);
  // Of the samples that are there, the one of this channel so many before the end.
  std::int16_t& back(std::size_t channel, std::int64_t before);
  void hold_open(std::size_t channel);
  void give(std::size_t pairs);

  SoundSink sink_;
  std::vector<std::int16_t> samples_;  // not given yet
  std::array<Channel, channels> channel_;
  Sound counts_;
};

// The bare samples, 16 bit, low byte first, left and right in turn.
std::vector<std::uint8_t> write_raw(std::span<const std::int16_t> samples);

// What stands before the bare samples in a WAV file (RIFF, WAVE_FORMAT_PCM) of 16 bit stereo at 44.1 kHz.
inline constexpr std::size_t wav_header_bytes = 44;
inline constexpr std::uint64_t wav_data_most = 0xFFFFFFFF - (wav_header_bytes - 8);  // bytes of samples
std::vector<std::uint8_t> wav_header(std::uint64_t data_bytes);

}  // namespace eyelevel::disc::audio
