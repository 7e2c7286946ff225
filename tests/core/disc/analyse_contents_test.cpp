// SPDX-License-Identifier: Apache-2.0
// What is on the disc, through the whole channel: a sine and numbered sectors are encoded, rendered as an eye and come
// back as sound, sectors and counts. The encoder is held by circ_vectors.json, the sector by data_sector_vector.json.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <vector>

#include "core/disc/analysis.hpp"
#include "core/disc/sector/sector.hpp"
#include "tests/core/disc/warnings.hpp"
#include "tests/support/eye_renderer.hpp"
#include "tests/support/stored_eyes.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;
using support::EyeSettings;

namespace {

constexpr double amplitude = 20000, sine_hz = 1001.3, pi = 3.14159265358979;

double sine(std::int64_t pair) { return amplitude * std::sin(2 * pi * sine_hz * static_cast<double>(pair) / 44100); }

// The sine on the left, its inverse on the right.
circ::F1Frame frame_of_sine(int number) {
  circ::F1Frame frame{};
  for (std::size_t w = 0; w < 12; ++w) {
    const double value = sine(6 * std::int64_t{number} + static_cast<std::int64_t>(w / 2)) * (w % 2 == 0 ? 1 : -1);
    const auto sample = static_cast<std::uint16_t>(static_cast<std::int16_t>(std::lround(value)));
    frame[2 * w] = static_cast<std::uint8_t>(sample >> 8);
    frame[2 * w + 1] = static_cast<std::uint8_t>(sample & 0xFF);
  }
  return frame;
}

// Sector n begins with frame 98 n + 4, 8 bytes in; its header says 10:00:00 + n. One has a wrong bit.
constexpr int wrong_sector = 2;

sector::Sector numbered_sector(int n) {
  sector::Sector s{};
  std::fill_n(s.begin() + 1, 10, std::uint8_t{0xFF});
  s[12] = 0x10;
  s[14] = static_cast<std::uint8_t>(n / 10 << 4 | n % 10);
  s[15] = 1;
  for (std::size_t i = 16; i < sector::edc_offset; ++i)
    s[i] = static_cast<std::uint8_t>(i * i + static_cast<std::size_t>(n));
  const std::uint32_t edc = sector::edc(std::span(s).first(sector::edc_offset));
  for (std::size_t k = 0; k < 4; ++k) s[sector::edc_offset + k] = static_cast<std::uint8_t>(edc >> (8 * k));
  if (n == wrong_sector) s[1000] ^= 4;
  sector::scramble(s);
  return s;
}

circ::F1Frame frame_of_sectors(int number) {
  circ::F1Frame frame{};
  for (std::size_t i = 0; i < circ::f1_bytes; ++i) {
    const std::int64_t place = 24 * (std::int64_t{number} - 4) + static_cast<std::int64_t>(i) - 8;
    if (place < 0) continue;
    const auto byte = static_cast<std::size_t>(place);
    frame[i ^ 1U] = numbered_sector(static_cast<int>(byte / sector::sector_bytes))[byte % sector::sector_bytes];
  }
  return frame;
}

// The pair at which the sound begins: the one shift at which it is the sine.
std::optional<std::int64_t> pair_of_first(const std::vector<std::int16_t>& samples) {
  for (std::int64_t first = -6 * 111; first < 6 * 10; ++first) {
    bool same = true;
    for (std::size_t i = 0; same && i < 200; i += 2)
      same = std::abs(samples[i] - sine(first + static_cast<std::int64_t>(i / 2))) <= 0.5 + 1e-9;
    if (same) return first;
  }
  return std::nullopt;
}

SoundSink into(std::vector<std::int16_t>& samples) {
  return [&samples](std::span<const std::int16_t> some) { samples.insert(samples.end(), some.begin(), some.end()); };
}

}  // namespace

TEST_CASE("analysis: a sine on the disc comes out as the sine it was", "[disc]") {
  EyeSettings settings;
  settings.user = frame_of_sine;
  const support::Eye eye = support::render(settings);
  AnalysisOptions options;
  CHECK_FALSE(analyse(eye.view(), options).sound);
  std::vector<std::int16_t> samples;
  options.on_sound = into(samples);
  const Analysis a = analyse(eye.view(), options);
  REQUIRE(a.sound);
  CHECK(a.sound->sample_pairs == static_cast<std::int64_t>(samples.size() / 2));
  REQUIRE(samples.size() == static_cast<std::size_t>(a.frames - circ::decode_delay) * 12);
  const auto first = pair_of_first(samples);
  REQUIRE(first);
  CHECK(*first == 2 * 6);  // frame 2 is the first whole one: the record begins at bit 1000
  for (std::size_t i = 0; i < samples.size(); ++i) {
    const double truth = sine(*first + static_cast<std::int64_t>(i / 2)) * (i % 2 == 0 ? 1 : -1);
    if (std::abs(samples[i] - truth) > 0.5 + 1e-9) FAIL("sample " << i);
  }
  CHECK(a.sound->interpolated + a.sound->held == 0);
  CHECK_FALSE(a.sectors);
}

TEST_CASE("analysis: a spot that the code repairs costs no sample, a longer one is concealed near the sine", "[disc]") {
  for (const double spot_s : {0.5e-3, 2.6e-3}) {
    EyeSettings settings;
    settings.user = frame_of_sine;
    settings.duration_s = 0.060;
    settings.contrast = [&](double t) { return t > 0.025 && t < 0.025 + spot_s ? 0.0 : 1.0; };
    AnalysisOptions options;
    std::vector<std::int16_t> samples;
    options.on_sound = into(samples);
    const Analysis a = analyse(support::render(settings).view(), options);
    INFO("spot of " << 1e3 * spot_s << " ms");
    REQUIRE(a.sound);
    REQUIRE(a.c1);
    const auto first = pair_of_first(samples);
    REQUIRE(first);
    double worst = 0;
    for (std::size_t i = 0; i < samples.size(); ++i) {
      const double truth = sine(*first + static_cast<std::int64_t>(i / 2)) * (i % 2 == 0 ? 1 : -1);
      worst = std::max(worst, std::abs(samples[i] - truth));
    }
    // Words of a frame that is dark throughout cannot be corrected; those at either end may be.
    const double frames = spot_s * settings.channel_rate_hz / 588;
    if (spot_s < 1e-3) {
      CHECK(std::abs(static_cast<double>(a.c1->uncorrectable_longest) - frames) < 2.5);
      CHECK(a.c1->wrong_longest >= a.c1->uncorrectable_longest);
      CHECK(worst <= 0.5 + 1e-9);
      CHECK(a.c2->e32 == 0);
      CHECK(a.sound->interpolated + a.sound->held == 0);
    } else {  // more than the sync bridges: the code starts anew, sound keeps its time
      CHECK(a.sound->held > 0);
      CHECK(worst > 0.5);
      CHECK(worst <= 2 * amplitude);
      CHECK(a.disturbed);
    }
  }
}

TEST_CASE("analysis: sectors of a data track are found with their address and EDC, and are no sound", "[disc]") {
  EyeSettings settings;
  settings.user = frame_of_sectors;
  settings.control = 4;
  settings.duration_s = 0.090;
  AnalysisOptions options;
  std::vector<std::int16_t> samples;
  options.on_sound = into(samples);
  const Analysis a = analyse(support::render(settings).view(), options);
  CHECK(a.content == Content::data);
  CHECK_FALSE(a.sound);
  REQUIRE(a.sectors);
  const auto& list = a.sectors->list;
  // Of 661 frames 550 come out: five sectors and a part.
  REQUIRE(list.size() == 5);
  CHECK(a.sectors->sectors == 5);
  CHECK(a.sectors->edc_ok == 4);
  CHECK(a.sectors->edc_bad == 1);
  for (std::size_t n = 0; n < list.size(); ++n) {
    CHECK(list[n].address == MinSecFrame{10, 0, static_cast<int>(n)});
    CHECK(list[n].mode == 1);
    CHECK(list[n].edc_ok == (n != wrong_sector));
  }
}

TEST_CASE("analysis: with the other strategy each pair of wrong symbols is an uncorrectable word", "[disc]") {
  const auto eye = support::stored_eye("damaged-symbols");  // truth: its document, rendered apart from this project
  const Analysis two = analyse(eye.wave.view(), eye.options());
  AnalysisOptions options = eye.options();
  options.strategy.c1_corrects = 1;
  const Analysis one = analyse(eye.wave.view(), options);
  REQUIRE(two.c1);
  REQUIRE(one.c1);
  CHECK(two.c1->e21 > 0);
  CHECK(one.c1->e11 == two.c1->e11);
  CHECK(one.c1->e21 == 0);
  CHECK(one.c1->e31 == two.c1->e31 + two.c1->e21);  // a wrong repair of one symbol: 2e-6 of the words
  CHECK(*one.bler_per_s == *two.bler_per_s);
}

TEST_CASE("analysis: the interval of the error rate is that of the count", "[disc]") {
  const auto eye = support::stored_eye("damaged-symbols");
  const Analysis a = analyse(eye.wave.view(), eye.options());
  REQUIRE(a.bler_interval_per_s);
  const double words = static_cast<double>(a.c1->words), words_per_s = *a.channel_rate_hz / 588;
  // 25 events: 16.18 to 36.90 (Pearson and Hartley, Biometrika Tables, table 40), half a unit of the last digit.
  REQUIRE(a.c1->e11 + a.c1->e21 + a.c1->e31 == 25);
  CHECK(a.bler_interval_per_s->low_per_s * words / words_per_s == Approx(16.18).margin(0.005));
  CHECK(a.bler_interval_per_s->high_per_s * words / words_per_s == Approx(36.90).margin(0.006));
  CHECK_FALSE(analyse(support::stored_eye("tracking-open").wave.view()).bler_interval_per_s);
}
