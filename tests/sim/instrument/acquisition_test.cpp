// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/acquisition.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <numbers>

using namespace eyelevel::sim;

namespace {

void nothing(double, double, std::span<float> volts) { std::fill(volts.begin(), volts.end(), 0.0F); }

// 1 V amplitude, 10 kHz, rising through 0 at t = 0.
void sine(double start_s, double interval_s, std::span<float> volts) {
  for (std::size_t i = 0; i < volts.size(); ++i)
    volts[i] =
        static_cast<float>(std::sin(2 * std::numbers::pi * 10e3 * (start_s + static_cast<double>(i) * interval_s)));
}

// Looks when it asks to be looked at, at most until `until_s`; gives the time of completion or -1.
double completed_s(Acquisition& acquisition, double now_s, double until_s, const Acquisition::Look& look) {
  while (now_s <= until_s) {
    if (acquisition.advance(now_s, look)) return now_s;
    now_s = std::max(acquisition.next_look_s(now_s), now_s + 1e-9);
  }
  return -1;
}

}  // namespace

TEST_CASE("crossing: found between samples, by slope, after the hysteresis", "[sim]") {
  const float volts[] = {1, -1, -0.05F, 0.1F, -0.05F, 1, 1, -3};
  // Rising through 0 between 2 and 3 at 2 + 0.05 / 0.15.
  CHECK(first_crossing(volts, 0, 0.2, TriggerSlope::positive) == Approx(2 + 1.0 / 3));
  // Falling: armed by the 1 at the beginning, through 0 half way to the -1.
  CHECK(first_crossing(volts, 0, 0.2, TriggerSlope::negative) == Approx(0.5));
  CHECK(first_crossing(volts, 0, 0.2, TriggerSlope::either) == Approx(0.5));
  CHECK(first_crossing(volts, -2, 0.2, TriggerSlope::negative) == Approx(6.75));
  CHECK_FALSE(first_crossing(volts, 2, 0.2, TriggerSlope::positive));
  CHECK_FALSE(first_crossing(volts, 0, 2, TriggerSlope::positive));
  CHECK_FALSE(first_crossing({}, 0, 0, TriggerSlope::either));
}

TEST_CASE("acquisition: an immediate one takes its record's time", "[sim]") {
  Acquisition acquisition;
  acquisition.begin({.points = 1000, .interval_s = 1e-6}, {}, 0, 1, 5.0);
  CHECK(acquisition.pending());
  CHECK_FALSE(acquisition.waiting());
  CHECK_FALSE(acquisition.advance(5.0005, nothing));
  CHECK(acquisition.next_look_s(5.0005) == Approx(5.001));
  CHECK(acquisition.advance(5.0011, nothing));
  CHECK_FALSE(acquisition.pending());
  CHECK(acquisition.record_start_s() == 5.0);
}

TEST_CASE("acquisition: the sample clock's error stretches the record", "[sim]") {
  Acquisition acquisition;
  acquisition.begin({.points = 1000, .interval_s = 1e-6}, {}, 0, 1.01, 0);
  CHECK(acquisition.true_interval_s() == Approx(1.01e-6));
  CHECK_FALSE(acquisition.advance(1.005e-3, nothing));
  CHECK(acquisition.advance(1.0101e-3, nothing));
}

TEST_CASE("acquisition: an internal trigger is found where the signal crosses the level", "[sim]") {
  Acquisition acquisition;
  TriggerSetting trigger;
  trigger.source = TriggerSource::internal;
  trigger.level_v = 0.5;
  // Armed at 1 s + 10 us, past the crossing of that period; the next is at 1.0001 + asin(0.5) / (2 pi 10 kHz).
  acquisition.begin({.points = 1000, .interval_s = 100e-9}, trigger, 0.05, 1, 1.00001);
  CHECK(acquisition.waiting());
  const double done_s = completed_s(acquisition, 1.00001, 2, sine);
  const double truth_s = 1.0001 + std::asin(0.5) / (2 * std::numbers::pi * 10e3);
  CHECK(acquisition.record_start_s() == Approx(truth_s).margin(2e-9));
  CHECK(done_s == Approx(truth_s + 100e-6).margin(1e-6));
  CHECK(acquisition.origin_s() == Approx(0).margin(1e-12));
}

TEST_CASE("acquisition: the reference puts the trigger inside the record", "[sim]") {
  Acquisition acquisition;
  TriggerSetting trigger;
  trigger.source = TriggerSource::internal;
  acquisition.begin({.points = 1001, .interval_s = 100e-9, .reference = 0.5}, trigger, 0.05, 1, 0);
  REQUIRE(completed_s(acquisition, 0, 1, sine) > 0);
  // The first rising crossing after 50 us of record lie behind: at 100 us.
  CHECK(acquisition.record_start_s() == Approx(50e-6).margin(2e-9));
  CHECK(acquisition.origin_s() == Approx(-50e-6).margin(1e-12));
}

TEST_CASE("acquisition: a signal that never crosses keeps it waiting, cheaply", "[sim]") {
  Acquisition acquisition;
  TriggerSetting trigger;
  trigger.source = TriggerSource::internal;
  trigger.level_v = 3;
  std::size_t rendered = 0;
  const auto look = [&rendered](double start_s, double interval_s, std::span<float> volts) {
    rendered += volts.size();
    sine(start_s, interval_s, volts);
  };
  acquisition.begin({.points = 1000, .interval_s = 50e-9}, trigger, 0.05, 1, 0);
  CHECK(completed_s(acquisition, 0, 2.0, look) < 0);
  CHECK(acquisition.waiting());
  // 2 s at 20 MS/s are 40 million samples; 2 ms of every 20 and the first 20 ms are looked at.
  CHECK(rendered < 6'000'000);
  CHECK(acquisition.force(2.0));
  CHECK_FALSE(acquisition.force(2.0));
  CHECK(acquisition.advance(2.001, look));
}

TEST_CASE("acquisition: a bus trigger is waited for and an abort ends it", "[sim]") {
  Acquisition acquisition;
  TriggerSetting trigger;
  trigger.source = TriggerSource::bus;
  acquisition.begin({.points = 10, .interval_s = 1e-6}, trigger, 0, 1, 0);
  CHECK_FALSE(acquisition.advance(100, nothing));
  CHECK(acquisition.waits_for_bus());
  acquisition.go_idle();
  CHECK_FALSE(acquisition.pending());
  CHECK_FALSE(acquisition.force(100));
}
