// SPDX-License-Identifier: Apache-2.0
// Frames are encoded here by the project's own encoder, which circ_vectors.json holds; what is tested is the order of
// things: who gets what, and what a gap leaves out.
#include "core/disc/detail/decoded.hpp"

#include <catch2/catch.hpp>

#include <vector>

#include "core/disc/circ/encoder.hpp"

using namespace eyelevel::disc;
using namespace eyelevel::disc::detail;

namespace {

// Frame n holds the number n in each of its samples.
std::vector<Frame> counted_frames(int count) {
  circ::Encoder encoder;
  std::vector<Frame> frames;
  for (int n = 0; n < count; ++n) {
    circ::F1Frame f1{};
    for (std::size_t w = 0; w < 12; ++w) {
      f1[2 * w] = static_cast<std::uint8_t>(n >> 8);
      f1[2 * w + 1] = static_cast<std::uint8_t>(n & 0xFF);
    }
    Frame frame;
    frame.number = n;
    frame.symbols = encoder.push(f1);
    frames.push_back(frame);
  }
  return frames;
}

Decoded decode_frames(const std::vector<Frame>& frames, Content content, SoundSink on_sound) {
  FrameDecoder decoder({}, std::move(on_sound));
  for (const Frame& frame : frames) decoder.take(frame, content);
  decoder.end();
  return decoder.result(content);
}

// Keeps what it is given.
SoundSink into(std::vector<std::int16_t>& samples) {
  return [&samples](std::span<const std::int16_t> some) { samples.insert(samples.end(), some.begin(), some.end()); };
}

}  // namespace

TEST_CASE("decoded: sound is for audio when wanted, sectors are for all but audio", "[disc]") {
  const auto frames = counted_frames(150);
  const Decoded silent = decode_frames(frames, Content::audio, {});
  CHECK_FALSE(silent.sound);
  CHECK_FALSE(silent.sectors);
  std::vector<std::int16_t> samples;
  const Decoded audio = decode_frames(frames, Content::audio, into(samples));
  REQUIRE(audio.sound);
  CHECK(samples.size() == (150 - circ::decode_delay) * 12);
  CHECK(audio.sound->sample_pairs == (150 - circ::decode_delay) * 6);
  CHECK(audio.c1.words == 149);
  const Decoded data = decode_frames(frames, Content::data, into(samples));
  CHECK_FALSE(data.sound);
  REQUIRE(data.sectors);
  CHECK(data.sectors->sectors == 0);
  CHECK(decode_frames(frames, Content::unknown, into(samples)).sectors);
}

TEST_CASE("decoded: sound keeps its time over a gap, what is missing is held", "[disc]") {
  auto frames = counted_frames(600);
  frames.erase(frames.begin() + 300, frames.begin() + 320);
  std::vector<std::int16_t> samples;
  const Decoded decoded = decode_frames(frames, Content::audio, into(samples));
  REQUIRE(decoded.sound);
  REQUIRE(samples.size() == (600 - circ::decode_delay) * 12);
  // The last frame before the gap is 299 - 111; the code is full again with frame 320 + 111, which gives frame 320.
  for (std::size_t n = 0; n < 600 - circ::decode_delay; ++n) {
    const std::size_t expected = n < 189 || n >= 320 ? n : 188;
    INFO("frame " << n);
    CHECK(samples[12 * n] == static_cast<int>(expected));
    CHECK(samples[12 * n + 11] == static_cast<int>(expected));
  }
  CHECK(decoded.sound->held == (320 - 189) * 12);
  CHECK(decoded.sound->interpolated == 0);
}
