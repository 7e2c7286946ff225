// SPDX-License-Identifier: Apache-2.0
#include "sim/player/pad.hpp"

#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>
#include <vector>

using namespace eyelevel::sim;

namespace {

// Peak-to-peak of the fundamental that comes out of the pole for a sine of 1 V peak-to-peak.
double passed(double source_ohm, Load load, double frequency_hz) {
  constexpr std::size_t per_period = 512;  // whole periods, so that the quadrature sums are exact
  const double rate_hz = per_period * frequency_hz;
  const auto pad = loaded(source_ohm, load);
  OnePole pole(pad, rate_hz);
  const std::size_t settle = (pole.warm_up() / per_period + 1) * per_period;
  std::vector<float> volts(settle + 20 * per_period);
  for (std::size_t i = 0; i < volts.size(); ++i)
    volts[i] = static_cast<float>(std::sin(2 * std::numbers::pi * frequency_hz * static_cast<double>(i) / rate_hz));
  pole.run(volts);
  double in_phase = 0, quadrature = 0;
  for (std::size_t i = settle; i < volts.size(); ++i) {
    const double angle = 2 * std::numbers::pi * frequency_hz * static_cast<double>(i) / rate_hz;
    in_phase += static_cast<double>(volts[i]) * std::sin(angle);
    quadrature += static_cast<double>(volts[i]) * std::cos(angle);
  }
  return 2 * std::hypot(in_phase, quadrature) / static_cast<double>(volts.size() - settle) / pad.gain;
}

}  // namespace

TEST_CASE("pad: saturation with a limit of 1.9 V loses 0.7, 2.9 and 13 % at 1.67, 1.84 and 2.17 V", "[player]") {
  // Design values of the soft saturation y = x/(1 + (x/Vs)^16)^(1/16); last digit.
  CHECK(1 - saturated_v(1.67, 1.9) / 1.67 == Approx(0.007).margin(0.0005));
  CHECK(1 - saturated_v(1.84, 1.9) / 1.84 == Approx(0.029).margin(0.0005));
  CHECK(1 - saturated_v(2.17, 1.9) / 2.17 == Approx(0.13).margin(0.005));
  CHECK(saturated_v(-1.84, 1.9) == -saturated_v(1.84, 1.9));
}

TEST_CASE("pad: saturating many samples gives the formula's value", "[player]") {
  constexpr double limit_v = 1.9;
  std::vector<float> volts;
  for (double v = -6; v < 6; v += 0.00037) volts.push_back(static_cast<float>(v));
  const auto before = volts;
  saturate(volts, limit_v);
  double worst_v = 0;
  for (std::size_t i = 0; i < volts.size(); ++i)
    worst_v = std::max(worst_v,
                       std::abs(static_cast<double>(volts[i]) - saturated_v(static_cast<double>(before[i]), limit_v)));
  // Straight lines of 1/1024 of the limit: second derivative below 5/Vs, plus float rounding.
  CHECK(worst_v < 2e-6 * limit_v);
}

TEST_CASE("pad: the load's pole takes from 3T and 11T what the design table says", "[player]") {
  // 1/(2 pi R C); 3T at 720.3 kHz, 11T at 196.4 kHz (1x, ECMA-130 12.1); last digit of the table.
  struct Row {
    double source_ohm, capacitance_f, corner_hz, of_3t, of_11t;
  };
  constexpr std::array<Row, 5> table{{{1e3, 12e-12, 13.3e6, 0.998, 1.000},
                                      {1e3, 32e-12, 4.97e6, 0.990, 0.999},
                                      {1e3, 110e-12, 1.45e6, 0.895, 0.991},
                                      {2.2e3, 110e-12, 0.66e6, 0.674, 0.958},
                                      {10e3, 12e-12, 1.33e6, 0.879, 0.989}}};
  for (const Row& row : table) {
    const Load load{1e12, row.capacitance_f};
    CHECK(1 / (2 * std::numbers::pi * loaded(row.source_ohm, load).time_constant_s) ==
          Approx(row.corner_hz).epsilon(0.005));
    CHECK(passed(row.source_ohm, load, 720.3e3) == Approx(row.of_3t).margin(0.0011));
    CHECK(passed(row.source_ohm, load, 196.4e3) == Approx(row.of_11t).margin(0.0011));
  }
}

TEST_CASE("pad: the load divides the voltage at d.c. and the filter keeps it so from the first sample", "[player]") {
  const Load load{1e6, 12e-12};
  const auto pad = loaded(1000, load);
  CHECK(pad.gain == Approx(1e6 / 1.001e6).epsilon(1e-12));
  OnePole pole(pad, 20e6);
  std::vector<float> volts(50, 2.0F);
  pole.run(volts);
  CHECK(static_cast<double>(volts.front()) == Approx(2 * pad.gain).epsilon(1e-6));
  CHECK(static_cast<double>(volts.back()) == Approx(2 * pad.gain).epsilon(1e-6));
}

TEST_CASE("pad: the filter answers the same whether a record is run at once or in pieces", "[player]") {
  const auto pad = loaded(1000, Load{10e6, 110e-12});
  std::vector<float> whole(1000);
  for (std::size_t i = 0; i < whole.size(); ++i) whole[i] = static_cast<float>((i / 7) % 2);
  auto pieces = whole;
  OnePole once(pad, 20e6), twice(pad, 20e6);
  once.run(whole);
  twice.run(std::span(pieces).first(333));
  twice.run(std::span(pieces).subspan(333));
  float worst = 0;
  for (std::size_t i = 0; i < whole.size(); ++i) worst = std::max(worst, std::abs(whole[i] - pieces[i]));
  CHECK(worst < 1e-6F);  // rounding of another grouping
}

TEST_CASE("pad: noise has the stated density and bandwidth at any sampling rate and repeats for the same key",
          "[player]") {
  constexpr double density_v = 5e-6, bandwidth_hz = 8e6;
  const double expected_sd_v = density_v * std::sqrt(std::numbers::pi / 2 * bandwidth_hz);  // one pole
  for (const double rate_hz : {10e6, 25e6, 100e6, 500e6}) {
    std::vector<float> volts(400000, 0.0F);
    NoiseSource(bandwidth_hz, rate_hz, 42).add_to(volts, density_v);
    double square = 0, neighbours = 0;
    for (std::size_t i = 1; i < volts.size(); ++i) {
      square += static_cast<double>(volts[i]) * static_cast<double>(volts[i]);
      neighbours += static_cast<double>(volts[i]) * static_cast<double>(volts[i - 1]);
    }
    // At 500 MS/s about 40 000 independent values: 0.35 % per sigma; four allowed.
    CHECK(std::sqrt(square / static_cast<double>(volts.size())) == Approx(expected_sd_v).epsilon(0.015));
    const double correlation = std::exp(-2 * std::numbers::pi * bandwidth_hz / rate_hz);
    CHECK(neighbours / square == Approx(correlation).margin(0.01));
    std::vector<float> again(400000, 0.0F);
    NoiseSource(bandwidth_hz, rate_hz, 42).add_to(again, density_v);
    CHECK(again == volts);
    std::vector<float> other(400000, 0.0F);
    NoiseSource(bandwidth_hz, rate_hz, 43).add_to(other, density_v);
    CHECK(other != volts);
  }
}
