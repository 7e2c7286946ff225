// SPDX-License-Identifier: Apache-2.0
// Truth: an S-curve in closed form, x exp(1/2 - x^2 / 2), whose peaks are 1 at x = -1 and 1 and whose slope in the
// middle is exp(1/2); and a sine. Noise is that of an 8-bit oscilloscope.
#include "core/disc/servo/servo.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <limits>

#include "core/base/random.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;

namespace {

constexpr double rate_hz = 1e6, pi = 3.14159265358979323846;

template <class Shape>
signal::Waveform wave_of(double duration_s, Shape shape, double noise_v = 0.005) {
  base::Random random(11, "noise");
  std::vector<float> volts;
  for (double t = 0; t < duration_s; t += 1 / rate_hz)
    volts.push_back(static_cast<float>(shape(t) + noise_v * random.normal()));
  signal::Waveform wave;
  wave.codes = std::move(volts);
  wave.rate_hz = rate_hz;
  return wave;
}

// Sweeps every 20 ms, each 1 ms from peak to peak, up peak `up` and down peak `down` V from 2.5 V.
auto sweeps(double up, double down) {
  return [=](double t) {
    const double x = (std::fmod(t, 0.02) - 0.01) / 0.0005, s = x * std::exp(0.5 - 0.5 * x * x);
    const bool back = static_cast<int>(t / 0.02) % 2 == 1;  // the lens comes back the other way
    return 2.5 + (back ? -1 : 1) * ((s > 0) != back ? up : down) * s;
  };
}

}  // namespace

TEST_CASE("servo: an S-curve has its height, symmetry and slope", "[disc]") {
  for (const double down : {0.5, 0.8, 1.0}) {
    CAPTURE(down);
    const auto s = servo::s_curve(wave_of(0.1, sweeps(0.8, down)).view(), std::nullopt).found;
    REQUIRE(s);
    CHECK(s->sweeps == 5);
    CHECK(s->height_v == Approx(0.8 + down).epsilon(0.01));
    CHECK(s->symmetry == Approx((0.8 - down) / (0.8 + down)).margin(0.01));
    // Mean of both sides: exp(1/2) of each peak in 0.5 ms, less 5 % because the line is fitted out to 0.4 of the peak,
    // and where the sides differ the shallower one has more of the samples.
    const double steepest = 0.5 * (0.8 + down) * std::exp(0.5) / 0.0005;
    CHECK(s->slope_v_per_s < steepest * 1.01);
    CHECK(s->slope_v_per_s > steepest * 0.88);
    CHECK(s->straight_s > 0.0004);
    CHECK(s->straight_s < 0.001);
  }
}

TEST_CASE("servo: sweeps of one direction are not mixed up, where a record begins in the middle of one", "[disc]") {
  // Up, then down, every 20 ms; the record begins behind the first upper peak's rise, on the lower half of a sweep.
  const auto shape = [](double t) {
    const double x = (std::fmod(t + 0.0102, 0.02) - 0.01) / 0.0005;
    return 2.5 - 0.8 * x * std::exp(0.5 - 0.5 * x * x);
  };
  const auto s = servo::s_curve(wave_of(0.1, shape).view(), 2.5).found;
  REQUIRE(s);
  CHECK(s->sweeps == 4);
  CHECK(s->slope_v_per_s == Approx(0.8 * std::exp(0.5) / 0.0005).epsilon(0.07));
  CHECK(s->straight_s < 0.001);
}

TEST_CASE("servo: without a sweep there is no S-curve, and why is told", "[disc]") {
  const auto why = [](const signal::Waveform& wave, std::optional<double> reference_v = std::nullopt) {
    const auto sought = servo::s_curve(wave.view(), reference_v);
    CHECK_FALSE(sought.found);
    return sought.why_not;
  };
  using Catch::Contains;
  CHECK_THAT(why(wave_of(0.1, [](double) { return 2.5; }, 0), 2.5), Contains("stands still at 2.5 V"));
  CHECK_THAT(why({std::vector<float>{}, rate_hz, 1, 0, {}, 0}),
             Contains("the record holds 0 samples, 16 are the least"));
  CHECK_THAT(why({std::vector<float>(100, 1.0F), 0, 1, 0, {}, 0}), Contains("a sample rate of 0 per second is none"));
  const std::vector<float> none(1000, std::numeric_limits<float>::quiet_NaN());
  CHECK_THAT(why({none, rate_hz, 1, 0, {}, 0}), Contains("stands still"));
  // A single bump, and two that are 34 ms apart.
  const auto bump = [](double t, double at) { return std::abs(t - at) < 0.003 ? 1.0 : 0.0; };
  CHECK_THAT(why(wave_of(
                 0.1, [&](double t) { return 2.5 + bump(t, 0.05); }, 0)),
             Contains("1 above and 0 below 2.5 V come further than 0.25 V"));
  CHECK_THAT(why(wave_of(
                 0.1, [&](double t) { return 2.5 + bump(t, 0.03) - bump(t, 0.07); }, 0)),
             Contains("1 above and 1 below 2.5 V"));
  CHECK_THAT(why(wave_of(
                 0.1, [](double t) { return t > 0.09 ? 2.5 + 50 * (t - 0.09) : 2.5; }, 0)),
             Contains("only at the ends of the record"));
  // 5 samples from peak to peak, of which none lies near the middle.
  signal::Waveform coarse;
  coarse.codes = std::vector<float>{0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, -1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0};
  coarse.rate_hz = 1000;
  CHECK_THAT(why(coarse), Contains("fewer than three samples near 0 V: 1e+04 per second would do"));
}

TEST_CASE("servo: noise and a steady swing are no S-curve", "[disc]") {
  for (const double volts : {0.001, 0.1}) {
    const auto noise = servo::s_curve(wave_of(0.1, [](double) { return 2.5; }, volts).view(), std::nullopt);
    CHECK_FALSE(noise.found);
    CHECK_THAT(noise.why_not, Catch::Contains("as noise behind the low-pass of 15 us is"));
  }
  const auto sine = servo::s_curve(wave_of(0.1, [](double t) { return 2.5 + 0.5 * std::sin(2 * pi * 200 * t); }).view(),
                                   std::nullopt);
  CHECK_FALSE(sine.found);
  CHECK_THAT(sine.why_not, Catch::Contains("swings without rest, 200 times a second"));
}

TEST_CASE("servo: sweeps are found in noise of a quarter of their height", "[disc]") {
  const auto s = servo::s_curve(wave_of(0.1, sweeps(0.8, 0.8), 0.2).view(), std::nullopt).found;
  REQUIRE(s);
  CHECK(s->sweeps == 5);
  // Noise of 0.2 V / sqrt(15) behind the low-pass; the furthest of some tens of points near a peak is two to three
  // deviations up: 0.1 V to 0.15 V at either peak.
  CHECK(s->height_v > 1.6);
  CHECK(s->height_v < 1.9);
}

TEST_CASE("servo: a single sweep that fills the record is found", "[disc]") {
  const auto s = servo::s_curve(wave_of(0.1,
                                        [](double t) {
                                          const double x = (t - 0.05) / 0.02;
                                          return 2.5 + 0.8 * x * std::exp(0.5 - 0.5 * x * x);
                                        })
                                    .view(),
                                std::nullopt);
  REQUIRE(s.found);
  CHECK(s.found->sweeps == 1);
  CHECK(s.found->height_v == Approx(1.6).epsilon(0.01));
}

TEST_CASE("servo: the tracking swing has its height, rate and balance", "[disc]") {
  for (const double off : {-0.2, 0.0, 0.1}) {
    CAPTURE(off);
    const auto wave = wave_of(0.05, [&](double t) { return 2.5 + off + 0.6 * std::sin(2 * pi * 700 * t); });
    const auto swing = servo::tracking_swing(wave.view(), 2.5).found;
    REQUIRE(swing);
    CHECK(swing->tracks >= 33);
    CHECK(swing->tracks_per_s == Approx(700).epsilon(0.01));
    CHECK(swing->height_v == Approx(1.2).epsilon(0.01));
    // (0.6 + off - (0.6 - off)) / 2 (1.2)
    CHECK(*swing->balance == Approx(2 * off / 2.4).margin(0.005));
    CHECK_FALSE(servo::tracking_swing(wave.view(), std::nullopt).found->balance);
  }
}

TEST_CASE("servo: without tracks crossed there is no swing, and why is told", "[disc]") {
  const auto why = [](const signal::Waveform& wave) {
    const auto sought = servo::tracking_swing(wave.view(), 2.5);
    CHECK_FALSE(sought.found);
    return sought.why_not;
  };
  using Catch::Contains;
  CHECK_THAT(why(wave_of(0.05, [](double) { return 2.5; }, 0)), Contains("stands still at 2.5 V"));
  CHECK_THAT(why({std::vector<float>{}, rate_hz, 1, 0, {}, 0}), Contains("16 are the least"));
  // Four swings, of which the first and the last peak may be cut: three of each are whole.
  CHECK_THAT(
      why(wave_of(
          0.1, [](double t) { return 2.5 + 0.5 * std::sin(2 * pi * 40 * t); }, 0)),
      Contains("3 whole upper and 3 whole lower swings in 100 ms, 4 of each are the least: about 167 ms would do"));
  CHECK_THAT(why(wave_of(0.1, [](double t) { return 2.5 + t; }, 0)), Contains("tracking loop open"));
  for (const double volts : {0.001, 0.1}) {
    CHECK_THAT(why(wave_of(0.05, [](double) { return 2.5; }, volts)), Contains("as those of noise do"));
  }
}

TEST_CASE("servo: tracks that are crossed faster and slower, or for a part of the record, are still found", "[disc]") {
  // A disc 0.1 mm off centre that turns 8 times a second: 2 pi 8 0.1 mm / 1.6 um = 3100 tracks a second at most.
  const auto turning = [](double t) { return 62.5 * std::sin(2 * pi * 8 * t); };
  const auto whole = servo::tracking_swing(
      wave_of(0.25, [&](double t) { return 2.5 + 0.6 * std::sin(2 * pi * turning(t)); }).view(), 2.5);
  REQUIRE(whole.found);
  CHECK(whole.found->height_v == Approx(1.2).epsilon(0.05));
  const auto part = servo::tracking_swing(
      wave_of(0.1, [&](double t) { return t < 0.06 ? 2.5 : 2.5 + 0.6 * std::sin(2 * pi * 700 * t); }).view(), 2.5);
  REQUIRE(part.found);
  CHECK(part.found->tracks_per_s == Approx(700).epsilon(0.01));
  CHECK(part.found->height_v == Approx(1.2).epsilon(0.02));
}
