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
    const auto s = servo::s_curve(wave_of(0.1, sweeps(0.8, down)).view(), std::nullopt);
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
  const auto s = servo::s_curve(wave_of(0.1, shape).view(), 2.5);
  REQUIRE(s);
  CHECK(s->sweeps == 4);
  CHECK(s->slope_v_per_s == Approx(0.8 * std::exp(0.5) / 0.0005).epsilon(0.07));
  CHECK(s->straight_s < 0.001);
}

TEST_CASE("servo: without a sweep there is no S-curve", "[disc]") {
  CHECK_FALSE(servo::s_curve(wave_of(0.1, [](double) { return 2.5; }, 0).view(), 2.5));
  // A single bump is none.
  CHECK_FALSE(servo::s_curve(wave_of(0.1, [](double t) { return t > 0.05 && t < 0.06 ? 3.5 : 2.5; }, 0).view(), 2.5));
  CHECK_FALSE(servo::s_curve(signal::Waveform{std::vector<float>{}, rate_hz, 1, 0, {}, 0}.view(), 2.5));
  const std::vector<float> none(1000, std::numeric_limits<float>::quiet_NaN());
  CHECK_FALSE(servo::s_curve(signal::Waveform{none, rate_hz, 1, 0, {}, 0}.view(), {}));
}

TEST_CASE("servo: the tracking swing has its height, rate and balance", "[disc]") {
  for (const double off : {-0.2, 0.0, 0.1}) {
    CAPTURE(off);
    const auto wave = wave_of(0.05, [&](double t) { return 2.5 + off + 0.6 * std::sin(2 * pi * 700 * t); });
    const auto swing = servo::tracking_swing(wave.view(), 2.5);
    REQUIRE(swing);
    CHECK(swing->tracks >= 33);
    CHECK(swing->tracks_per_s == Approx(700).epsilon(0.01));
    CHECK(swing->height_v == Approx(1.2).epsilon(0.01));
    // (0.6 + off - (0.6 - off)) / 2 (1.2)
    CHECK(*swing->balance == Approx(2 * off / 2.4).margin(0.005));
    CHECK_FALSE(servo::tracking_swing(wave.view(), std::nullopt)->balance);
  }
}

TEST_CASE("servo: a quiet tracking error has no swing", "[disc]") {
  CHECK_FALSE(servo::tracking_swing(wave_of(0.05, [](double) { return 2.5; }, 0).view(), 2.5));
  CHECK_FALSE(servo::tracking_swing(signal::Waveform{std::vector<float>{}, rate_hz, 1, 0, {}, 0}.view(), 2.5));
}
