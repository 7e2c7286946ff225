// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/front_end.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <numeric>

#include "tests/support/test_signal.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;

namespace {

// No errors, no noise: what is left is probe, coupling, bandwidth and conversion.
ScopeClass perfect() {
  ScopeClass scope_class;
  scope_class.gain_relative = scope_class.offset_in_v = scope_class.offset_of_range = 0;
  scope_class.noise_in_v = scope_class.noise_of_range = 0;
  return scope_class;
}

double volts_in(const InputSetting& setting, std::int8_t code) {
  return setting.offset_in_v + (code + 0.5) * setting.range_in_v / 255;
}

double mean_code_volts(const InputSetting& setting, const std::vector<std::int8_t>& codes) {
  double sum = 0;
  for (const auto code : codes) sum += volts_in(setting, code);
  return sum / static_cast<double>(codes.size());
}

double swing_v(FrontEnd& front_end, const InputSetting& setting) {
  std::vector<float> volts(20000);
  front_end.analog(setting, {1.0, 50e-9}, volts);
  // The second half: filters have settled.
  const auto [low, high] = std::minmax_element(volts.begin() + 10000, volts.end());
  return static_cast<double>(*high - *low);
}

}  // namespace

TEST_CASE("front end: a steady voltage is divided by the probe and read within half a step", "[sim]") {
  FrontEnd front_end(perfect(), base::Random(1));
  const auto place = test::constant_source(1.6);
  front_end.connect(place, {.factor = 10, .resistance_ohm = 9e6, .capacitance_f = 13e-12});
  InputSetting setting;
  setting.range_in_v = 0.2;
  setting.offset_in_v = 0.16;
  std::vector<std::int8_t> codes(1000);
  front_end.digitise(setting, {0.5, 1e-6}, codes);
  const double half_step_v = 0.2 / 255 / 2;
  CHECK(mean_code_volts(setting, codes) == Approx(0.16).margin(half_step_v * 1.0001));
  CHECK(place->last_load.resistance_ohm == 9e6);
  CHECK(place->last_load.capacitance_f == 13e-12);
}

TEST_CASE("front end: what is beyond the range reads the end codes", "[sim]") {
  FrontEnd front_end(perfect(), base::Random(1));
  InputSetting setting;
  setting.range_in_v = 2;
  std::vector<std::int8_t> codes(10);
  front_end.connect(test::constant_source(5), {.factor = 1});
  front_end.digitise(setting, {0, 1e-6}, codes);
  CHECK(std::all_of(codes.begin(), codes.end(), [](auto c) { return c == 127; }));
  CHECK(volts_in(setting, 127) == Approx(1.0));
  front_end.connect(test::constant_source(-5), {.factor = 1});
  front_end.digitise(setting, {0, 1e-6}, codes);
  CHECK(std::all_of(codes.begin(), codes.end(), [](auto c) { return c == -128; }));
  CHECK(volts_in(setting, -128) == Approx(-1.0));
  front_end.connect(test::constant_source(std::numeric_limits<double>::quiet_NaN()), {.factor = 1});
  front_end.digitise(setting, {0, 1e-6}, codes);
  CHECK(codes[0] == -128);
}

TEST_CASE("front end: the errors of many instruments fill their class evenly", "[sim]") {
  // Truth: rectangular in +-1.5 %, standard deviation 1.5 % / sqrt 3; 2000 draws give it to 1.5 % (1 sigma), so 5 %.
  ScopeClass scope_class = perfect();
  scope_class.gain_relative = 0.015;
  double sum = 0;
  double squares = 0;
  double largest = 0;
  constexpr int instruments = 2000;
  for (int i = 0; i < instruments; ++i) {
    FrontEnd front_end(scope_class, base::Random(static_cast<std::uint64_t>(i), "scope"));
    front_end.connect(test::constant_source(1), {.factor = 1});
    float volts = 0;
    front_end.analog({}, {0, 1e-6}, std::span(&volts, 1));
    const double error = static_cast<double>(volts) - 1;
    sum += error;
    squares += error * error;
    largest = std::max(largest, std::abs(error));
  }
  CHECK(std::abs(sum / instruments) < 4 * 0.015 / std::sqrt(3.0 * instruments));
  CHECK(std::sqrt(squares / instruments) == Approx(0.015 / std::sqrt(3.0)).epsilon(0.05));
  CHECK(largest <= 0.015 * 1.00001);
}

TEST_CASE("front end: noise has the stated standard deviation", "[sim]") {
  ScopeClass scope_class = perfect();
  scope_class.noise_in_v = 0.003;
  scope_class.noise_of_range = 0.004;  // with a range of 1 V: root of squares is 5 mV
  FrontEnd front_end(scope_class, base::Random(3));
  front_end.connect(test::constant_source(0), {.factor = 1});
  InputSetting setting;
  setting.range_in_v = 1;
  std::vector<std::int8_t> codes(100000);
  front_end.digitise(setting, {0, 1e-6}, codes);
  const double mean = mean_code_volts(setting, codes);
  double squares = 0;
  for (const auto code : codes) squares += std::pow(volts_in(setting, code) - mean, 2);
  // The conversion adds step^2 / 12.
  const double expected = std::sqrt(0.005 * 0.005 + std::pow(1.0 / 255, 2) / 12);
  CHECK(std::sqrt(squares / 100000) == Approx(expected).epsilon(0.02));
  CHECK(mean == Approx(0).margin(4 * expected / std::sqrt(100000.0)));
}

TEST_CASE("front end: a badly compensated probe scales everything but d.c.", "[sim]") {
  // 200 kHz, the 11T fundamental of a disc at 1x: far above the probe's corner of about 1.5 kHz.
  InputSetting setting;
  FrontEnd front_end(perfect(), base::Random(1));
  front_end.connect(test::sine_source(1.5, 0.5, 200e3), {.factor = 10, .compensation = 0.8});
  CHECK(swing_v(front_end, setting) == Approx(0.08).epsilon(0.01));
  front_end.connect(test::constant_source(1.5), {.factor = 10, .compensation = 0.8});
  std::vector<float> volts(100);
  front_end.analog(setting, {1.0, 1e-6}, volts);
  CHECK(volts.back() == Approx(0.15).epsilon(1e-5));
}

TEST_CASE("front end: a.c. coupling takes the mean away, ground takes all", "[sim]") {
  FrontEnd front_end(perfect(), base::Random(1));
  front_end.connect(test::sine_source(2.5, 0.5, 200e3), {.factor = 1});
  InputSetting setting;
  setting.coupling = InputCoupling::ac;
  std::vector<float> volts(20000);
  front_end.analog(setting, {1.0, 50e-9}, volts);
  const double mean = std::accumulate(volts.begin(), volts.end(), 0.0) / static_cast<double>(volts.size());
  CHECK(mean == Approx(0).margin(0.01));
  CHECK(swing_v(front_end, setting) == Approx(1.0).epsilon(0.01));
  setting.coupling = InputCoupling::ground;
  CHECK(swing_v(front_end, setting) == 0);
}

TEST_CASE("front end: the bandwidth limit is a pole", "[sim]") {
  // Truth: one pole at 100 kHz passes 1/sqrt 2 of a 100 kHz sine.
  FrontEnd front_end(perfect(), base::Random(1));
  front_end.connect(test::sine_source(0, 0.5, 100e3), {.factor = 1});
  InputSetting setting;
  CHECK(swing_v(front_end, setting) == Approx(1.0).epsilon(0.01));
  setting.filter = true;
  setting.filter_hz = 100e3;
  CHECK(swing_v(front_end, setting) == Approx(std::sqrt(0.5)).epsilon(0.02));
}

TEST_CASE("front end: an open input reads zero", "[sim]") {
  FrontEnd front_end(perfect(), base::Random(1));
  CHECK_FALSE(front_end.connected());
  std::vector<float> volts(10, 7.0F);
  front_end.analog({}, {0, 1e-6}, volts);
  CHECK(volts == std::vector<float>(10, 0.0F));
}

TEST_CASE("front end: hum that the ground loop picks up stands on the signal at the tip", "[sim]") {
  FrontEnd front_end(perfect(), base::Random(1));
  front_end.connect(test::constant_source(1.0), {.factor = 10, .hum_v = 0.5, .hum_hz = 50});
  std::vector<float> volts(2000);
  front_end.analog({.attenuation = 10}, {1.0, 20e-6}, volts);  // two turns of 50 Hz
  const auto [low, high] = std::minmax_element(volts.begin(), volts.end());
  CHECK(*high == Approx(0.15).epsilon(0.01));
  CHECK(*low == Approx(0.05).epsilon(0.02));
}
