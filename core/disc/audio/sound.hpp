// SPDX-License-Identifier: Apache-2.0
// F1-frames of an audio track to stereo samples: 16 bit, left and right in turn, 44.1 kHz at 1x (IEC 60908 clause 16:
// six sample pairs a frame, even words left, byte A the upper half). Samples that the code could not vouch for are
// concealed: in a straight line between good neighbours of their channel, held where the line would be long. Not for
// pre-emphasis, which is left in. One SoundBuilder belongs to one thread.
#pragma once

#include <cstdint>
#include <span>
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
  // `bad`: mask of bytes that are not vouched for.
  void push(const circ::F1Frame& frame, std::uint32_t bad);
  // Frames of which nothing is known; they keep their time.
  void skip(std::int64_t frames);
  // Everything pushed, concealed.
  Sound result() const;
  void reset() { *this = SoundBuilder(); }

 private:
  std::vector<std::int16_t> samples_;
  std::vector<bool> bad_;
};

// The bare samples, 16 bit, low byte first, left and right in turn.
std::vector<std::uint8_t> write_raw(std::span<const std::int16_t> samples);
// A WAV file (RIFF, WAVE_FORMAT_PCM) of 16 bit stereo at 44.1 kHz. Throws base::Error(bad_input) beyond 4 GiB.
std::vector<std::uint8_t> write_wav(std::span<const std::int16_t> samples);

}  // namespace eyelevel::disc::audio
