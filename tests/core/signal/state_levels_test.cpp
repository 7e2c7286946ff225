// SPDX-License-Identifier: Apache-2.0
#include "core/signal/state_levels.hpp"

#include <catch2/catch.hpp>

#include <numbers>

#include "core/base/error.hpp"
#include "core/base/random.hpp"
#include "core/metrology/statistics.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using test::example;
using test::number;
using test::numbers;

TEST_CASE("state levels: shorth and mode of the worked record with overshoot", "[signal]") {
  // examples.json "state_levels_vector", computed there from the definitions of IEEE Std 181's terms; relative 1e-8
  // for values, and the record as floats for the mode (1e-7).
  const auto vector = example("state_levels_vector");
  const auto samples = numbers(vector.at("inputs").at("samples"));
  const auto computed = vector.at("computed");
  const auto mean = numbers(computed.at("shorth_mean"));
  const auto midpoint = numbers(computed.at("shorth_midpoint"));
  const auto shorth = signal::state_levels_by_shorth(samples);
  CHECK(shorth.by_mean.low_v == Approx(mean[0]).epsilon(1e-8));
  CHECK(shorth.by_mean.high_v == Approx(mean[1]).epsilon(1e-8));
  CHECK(shorth.by_midpoint.low_v == Approx(midpoint[0]).epsilon(1e-8));
  CHECK(shorth.by_midpoint.high_v == Approx(midpoint[1]).epsilon(1e-8));

  const auto mode = numbers(computed.at("histogram_mode"));
  const std::vector<float> floats(samples.begin(), samples.end());
  const auto levels = signal::state_levels_by_mode({std::span(floats), 1.0, 1, 0, std::nullopt},
                                                   static_cast<std::size_t>(number(vector.at("inputs").at("bins"))));
  CHECK(levels.low_v == Approx(mode[0]).epsilon(1e-6));
  CHECK(levels.high_v == Approx(mode[1]).epsilon(1e-7));
  CHECK(levels.reference_v(0.5) == Approx((mode[0] + mode[1]) / 2).epsilon(1e-6));
}

TEST_CASE("state levels: a sine has its mode at the crest, which is why the eye needs another way", "[signal]") {
  // examples.json "sine_state_levels": exact limits of a long record; mode to half a bin of 2/200.
  const auto computed = example("sine_state_levels").at("computed");
  constexpr std::size_t n = 200000;
  std::vector<float> sine(n);
  std::vector<double> upper;
  for (std::size_t i = 0; i < n; ++i) {
    const double v = std::sin(2 * std::numbers::pi * (static_cast<double>(i) + 0.25) / 1000);
    sine[i] = static_cast<float>(v);
    if (v > 0) upper.push_back(v);
  }
  const auto levels = signal::state_levels_by_mode({std::span(sine), 1e6, 1, 0, std::nullopt}, 200);
  CHECK(levels.high_v == Approx(number(computed.at("mode"))).margin(0.006));
  CHECK(levels.low_v == Approx(-number(computed.at("mode"))).margin(0.006));
  CHECK(metrology::statistics(upper).mean == Approx(number(computed.at("mean"))).epsilon(1e-4));
  CHECK(metrology::robust_location(upper).median == Approx(number(computed.at("median"))).epsilon(1e-2));
}

TEST_CASE("state levels: largest minus smallest over-reads where the states do not", "[signal]") {
  // examples.json "max_min_two_levels": 1.2 V, 10 mV of noise, n samples a state; expectation by quadrature. 200
  // records; largest minus smallest scatters by 5 mV a record, its mean by 0.36 mV: four of these allowed. The states
  // by shorth have no such bias: within four standard errors of shorth's mean (about 0.8 s / n^(1/3) a record).
  const auto two = example("max_min_two_levels");
  const double amplitude_v = number(two.at("inputs").at("amplitude_v"));
  const double sigma_v = number(two.at("inputs").at("sigma_v"));
  const auto n = numbers(two.at("inputs").at("n_top_equal_n_bottom"));
  const auto expected = numbers(two.at("computed").at("expected_max_min_v"));
  base::Random random(3, "two states");
  constexpr int records = 200;
  for (std::size_t k = 0; k < 2; ++k) {
    double reach_v = 0;
    double shorth_v = 0;
    for (int r = 0; r < records; ++r) {
      std::vector<double> values;
      for (int i = 0; i < static_cast<int>(n[k]); ++i) {
        values.push_back(random.normal(0, sigma_v));
        values.push_back(random.normal(amplitude_v, sigma_v));
      }
      const auto [low, high] = std::minmax_element(values.begin(), values.end());
      reach_v += (*high - *low) / records;
      shorth_v += signal::state_levels_by_shorth(values).by_mean.amplitude_v() / records;
    }
    CHECK(reach_v == Approx(expected[k]).margin(4 * 0.00036));
    CHECK(shorth_v == Approx(amplitude_v).margin(4 * 0.8 * sigma_v / std::cbrt(n[k]) * std::sqrt(2.0 / records)));
  }
}

TEST_CASE("state levels: one level is not taken for two states", "[signal]") {
  const std::vector<std::int8_t> flat(100, 7);
  CHECK_THROWS_WITH(signal::state_levels_by_mode({std::span(flat), 1e6, 1, 0, std::nullopt}),
                    Catch::Contains("no two states"));
  CHECK_THROWS_WITH(signal::state_levels_by_shorth(std::vector{1.0, 1.0}), Catch::Contains("no two states"));
  CHECK_THROWS_AS(signal::state_levels_by_shorth(std::vector<double>{}), base::Error);
}
