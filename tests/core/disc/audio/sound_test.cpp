// SPDX-License-Identifier: Apache-2.0
// Outside truth: the F1- and F2-frames of circ_vectors.json, whose rule and encoder are not ours. A sine through the
// project's own encoder shows what becomes of samples that cannot be corrected; there truth is the closed form.
#include "core/disc/audio/sound.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <span>
#include <string_view>
#include <vector>

#include "core/disc/circ/decoder.hpp"
#include "core/disc/circ/encoder.hpp"
#include "tests/core/disc/vectors.hpp"

using namespace eyelevel::disc;
using namespace eyelevel::disc::audio;
using namespace eyelevel::tests;
using circ::F1Frame;
using circ::F2Frame;

namespace {

constexpr double pi = 3.14159265358979;
constexpr double amplitude = 20000;
constexpr double left_hz = 441, right_hz = 1000;

// One channel of the sine before rounding; sample pair `pair`.
double sine(std::int64_t pair, std::size_t channel) {
  return amplitude * std::sin(2 * pi * (channel == 0 ? left_hz : right_hz) * static_cast<double>(pair) / rate_hz);
}

F1Frame frame_of_sine(std::int64_t number) {
  F1Frame frame{};
  for (std::size_t w = 0; w < samples_a_frame; ++w) {
    const double value = sine(6 * number + static_cast<std::int64_t>(w / 2), w % 2);
    const auto sample = static_cast<std::uint16_t>(static_cast<std::int16_t>(std::lround(value)));
    frame[2 * w] = static_cast<std::uint8_t>(sample >> 8);
    frame[2 * w + 1] = static_cast<std::uint8_t>(sample & 0xFF);
  }
  return frame;
}

// Sound with its samples.
struct Heard : Sound {
  std::vector<std::int16_t> samples;
};

// What comes out of everything that `fill` puts in.
template <class Fill>
Heard heard(const Fill& fill) {
  Heard out;
  SoundBuilder builder([&](std::span<const std::int16_t> some) {
    CHECK(some.size() % channels == 0);
    out.samples.insert(out.samples.end(), some.begin(), some.end());
  });
  fill(builder);
  builder.end();
  static_cast<Sound&>(out) = builder.counts();
  CHECK(out.sample_pairs == static_cast<std::int64_t>(out.samples.size() / channels));
  return out;
}

Heard decoded(const std::vector<F2Frame>& f2) {
  return heard([&](SoundBuilder& builder) {
    circ::Decoder decoder;
    for (const F2Frame& frame : f2) {
      if (const auto out = decoder.push(frame)) builder.push(out->bytes, out->bad);
    }
  });
}

std::vector<F2Frame> encoded_sine(int frames) {
  circ::Encoder encoder;
  std::vector<F2Frame> f2;
  for (int n = 0; n < frames; ++n) f2.push_back(encoder.push(frame_of_sine(n)));
  return f2;
}

std::uint32_t little(const std::vector<std::uint8_t>& bytes, std::size_t at, std::size_t count) {
  std::uint32_t value = 0;
  for (std::size_t k = count; k-- > 0;) value = value << 8 | bytes.at(at + k);
  return value;
}

}  // namespace

TEST_CASE("sound: published F2-frames give the bytes of the published rule as samples, upper half first", "[disc]") {
  const auto f2 = frames_from_hex<F2Frame>(json_vectors("circ_vectors.json").at("f2"));
  const Heard sound = decoded(f2);
  REQUIRE(sound.samples.size() == (240 - circ::decode_delay) * std::size_t{samples_a_frame});
  // The generator of circ_vectors.json for frames 0 to 119, silence afterwards.
  std::uint32_t state = 1;
  const auto next = [&] {
    state = 1664525 * state + 1013904223;
    return state >> 24;
  };
  std::size_t wrong = 0;
  for (std::size_t i = 0; i < sound.samples.size(); ++i) {
    std::uint32_t expected = 0;
    if (i < 120 * std::size_t{samples_a_frame}) {
      expected = next() << 8;
      expected |= next();
    }
    wrong += sound.samples[i] != static_cast<std::int16_t>(static_cast<std::uint16_t>(expected));
  }
  CHECK(wrong == 0);
  CHECK(sound.interpolated == 0);
  CHECK(sound.held == 0);
}

TEST_CASE("sound: a sine comes out of the code sample by sample as it went in", "[disc]") {
  const Heard sound = decoded(encoded_sine(1000));
  REQUIRE(sound.samples.size() == (1000 - circ::decode_delay) * std::size_t{samples_a_frame});
  for (std::size_t i = 0; i < sound.samples.size(); ++i) {
    const double truth = sine(static_cast<std::int64_t>(i / 2), i % 2);
    if (std::abs(sound.samples[i] - truth) > 0.5 + 1e-9) FAIL("sample " << i << " is " << sound.samples[i]);
  }
  CHECK(sound.interpolated + sound.held == 0);
}

TEST_CASE("sound: what a long burst takes is concealed, counted, and lies near the sine", "[disc]") {
  auto f2 = encoded_sine(1000);
  for (std::size_t n = 400; n < 420; ++n) {
    for (auto& symbol : f2[n]) symbol = static_cast<std::uint8_t>(symbol ^ 0x5A);
  }
  const Heard sound = decoded(f2);
  double worst = 0;
  std::int64_t changed = 0;
  for (std::size_t i = 0; i < sound.samples.size(); ++i) {
    const double off = std::abs(sound.samples[i] - sine(static_cast<std::int64_t>(i / 2), i % 2));
    worst = std::max(worst, off);
    changed += off > 0.5 + 1e-9;
  }
  CHECK(sound.interpolated > 100);
  CHECK(changed <= sound.interpolated + sound.held);
  CHECK(changed > 0);
  // A line over n + 1 steps of a sine is off by at most A (w (n + 1))^2 / 8, n being at most 12.
  const double step = 2 * pi * right_hz / rate_hz * (interpolated_most + 1);
  CHECK(sound.held == 0);
  CHECK(worst <= amplitude * step * step / 8 + 1);
}

TEST_CASE("sound: a line of up to twelve samples a channel, else the last good one; before the first silence",
          "[disc]") {
  const auto frame = [](int left, int right) {
    F1Frame f{};
    for (std::size_t w = 0; w < samples_a_frame; ++w) {
      const auto sample = static_cast<std::uint16_t>(w % 2 == 0 ? left : right);
      f[2 * w] = static_cast<std::uint8_t>(sample >> 8);
      f[2 * w + 1] = static_cast<std::uint8_t>(sample & 0xFF);
    }
    return f;
  };
  const Heard sound = heard([&](SoundBuilder& builder) {
    builder.skip(1);  // nothing before
    builder.push(frame(-700, 130), 0);
    builder.skip(2);  // twelve samples of each channel: a line over thirteen steps
    builder.push(frame(600, 0), 0);
    builder.skip(3);  // longer: held
    builder.push(frame(100, -100), 0);
    builder.push(frame(500, 500), 0b11U << 4);  // word 2 of a good frame: left, the second of six
    builder.push(frame(0, 0), 0xFFFFFF);        // nothing behind: the last good one
  });
  REQUIRE(sound.samples.size() == 11 * std::size_t{samples_a_frame});
  const auto left = [&](std::size_t pair) { return sound.samples[2 * pair]; };
  const auto right = [&](std::size_t pair) { return sound.samples[2 * pair + 1]; };
  for (std::size_t i = 0; i < 6; ++i) CHECK((left(i) == 0 && right(i) == 0));
  for (std::size_t i = 0; i < 12; ++i) {  // from -700 to 600 in 13 steps of 100, from 130 to 0 in steps of -10
    CHECK(left(12 + i) == -600 + 100 * static_cast<int>(i));
    CHECK(right(12 + i) == 120 - 10 * static_cast<int>(i));
  }
  for (std::size_t i = 30; i < 48; ++i) CHECK((left(i) == 600 && right(i) == 0));
  CHECK(left(55) == 500);
  for (std::size_t i = 60; i < 66; ++i) CHECK((left(i) == 500 && right(i) == 500));
  CHECK(sound.interpolated == 2 * 12 + 1);
  CHECK(sound.held == 12 + 36 + 12);

  const Heard nothing = heard([](SoundBuilder& builder) { builder.skip(2); });
  CHECK(nothing.samples == std::vector<std::int16_t>(24, 0));
  CHECK(nothing.held == 24);
}

TEST_CASE("sound: what is certain is given soon, whatever is missing", "[disc]") {
  std::size_t given = 0, most = 0;
  SoundBuilder builder([&](std::span<const std::int16_t> some) {
    given += some.size();
    most = std::max(most, some.size());
  });
  constexpr std::size_t one_second = 7350;  // frames at 1x
  builder.push({}, 0);
  builder.skip(one_second);
  CHECK(given + 2 * std::size_t{1100} > one_second * samples_a_frame);
  for (std::size_t n = 0; n < one_second; ++n) builder.push({}, n % 2 == 0 ? 0 : 0xFFFFFF);
  CHECK(given + 2 * std::size_t{1100} > 2 * one_second * samples_a_frame);
  CHECK(most <= 2 * std::size_t{1100});
}

TEST_CASE("sound: the WAV file says 16 bit stereo at 44.1 kHz and holds the samples low byte first", "[disc]") {
  const std::vector<std::int16_t> samples = {1, -2, 0x1234, -32768};
  auto wav = wav_header(2 * samples.size());
  REQUIRE(wav.size() == wav_header_bytes);
  const auto bare = write_raw(samples);
  wav.insert(wav.end(), bare.begin(), bare.end());
  const std::string_view text(reinterpret_cast<const char*>(wav.data()), wav.size());
  REQUIRE(wav.size() == 44 + 8);
  CHECK(text.substr(0, 4) == "RIFF");
  CHECK(little(wav, 4, 4) == wav.size() - 8);
  CHECK(text.substr(8, 8) == "WAVEfmt ");
  CHECK(little(wav, 16, 4) == 16);
  CHECK(little(wav, 20, 2) == 1);
  CHECK(little(wav, 22, 2) == 2);
  CHECK(little(wav, 24, 4) == 44100);
  CHECK(little(wav, 28, 4) == 176400);
  CHECK(little(wav, 32, 2) == 4);
  CHECK(little(wav, 34, 2) == 16);
  CHECK(text.substr(36, 4) == "data");
  CHECK(little(wav, 40, 4) == 8);
  for (std::size_t i = 0; i < samples.size(); ++i)
    CHECK(little(wav, 44 + 2 * i, 2) == static_cast<std::uint16_t>(samples[i]));
}
