// SPDX-License-Identifier: Apache-2.0
#include "core/signal/envelope.hpp"

#include <catch2/catch.hpp>

#include <numbers>

#include "core/base/error.hpp"
#include "core/base/random.hpp"
#include "tests/support/measurement_data.hpp"
#include "tests/support/number.hpp"

using namespace eyelevel;
using test::example;
using test::numbers;

TEST_CASE("quantile envelope: a sine with noise gives the values of the quadrature", "[signal]") {
  // examples.json "percentile_envelope": unit sine (true distance 2) and Gaussian noise. 400 000 samples: a quantile
  // scatters by sqrt(p/n)/density; 0.5 % of 2 covers four of these at p = 0.1 % with half a bin of 2.8/2000.
  const auto inputs = example("percentile_envelope").at("inputs");
  const auto computed = example("percentile_envelope").at("computed").at("with_noise");
  const auto p = numbers(inputs.at("p"));
  base::Random random(4, "envelope");
  for (const auto& [sigma, distances] : computed.as_object()) {
    CAPTURE(std::string(sigma));
    std::vector<float> samples(400000);
    for (std::size_t i = 0; i < samples.size(); ++i) {
      samples[i] = static_cast<float>(std::sin(2 * std::numbers::pi * static_cast<double>(i) * 0.0123456789) +
                                      random.normal(0, test::point_number(std::string(sigma))));
    }
    const auto histogram = signal::histogram({std::span(samples), 1e6, 1, 0, std::nullopt}, 2000);
    const auto truth = numbers(distances);
    for (std::size_t i = 0; i < p.size(); ++i) {
      CHECK(signal::quantile_envelope(histogram, p[i]).distance_v() == Approx(truth[i]).margin(0.01));
    }
  }
}

TEST_CASE("quantile envelope: without noise each quantile is cos(pi p)", "[signal]") {
  const auto p = numbers(example("percentile_envelope").at("inputs").at("p"));
  const auto truth = numbers(example("percentile_envelope").at("computed").at("noise_free"));
  std::vector<float> samples(1000000);
  for (std::size_t i = 0; i < samples.size(); ++i) {
    samples[i] = static_cast<float>(std::sin(2 * std::numbers::pi * (static_cast<double>(i) + 0.5) / 1e6));
  }
  const auto histogram = signal::histogram({std::span(samples), 1e6, 1, 0, std::nullopt}, 20000);
  for (std::size_t i = 0; i < p.size(); ++i) {
    CHECK(signal::quantile_envelope(histogram, p[i]).distance_v() == Approx(truth[i]).margin(2e-4));  // 2 bins of 1e-4
  }
  CHECK_THROWS_AS(signal::quantile_envelope(histogram, 0.5), base::Error);
}

TEST_CASE("envelope columns: parts cover every sample once, also where the count does not divide", "[signal]") {
  std::vector<std::int16_t> codes(10);
  for (std::size_t i = 0; i < codes.size(); ++i) codes[i] = static_cast<std::int16_t>(i);
  const auto columns = signal::envelope_columns({std::span(codes), 1e6, -1, 0, std::nullopt}, 3);
  REQUIRE(columns.size() == 3);
  CHECK((columns[0].max_v == 0 && columns[0].min_v == -3));
  CHECK((columns[1].max_v == -4 && columns[1].min_v == -6));
  CHECK((columns[2].max_v == -7 && columns[2].min_v == -9));
  CHECK(signal::envelope_columns({std::span(codes), 1e6, 1, 0, std::nullopt}, 100).size() == 10);
  CHECK(signal::envelope_columns({std::span(codes), 1e6, 1, 0, std::nullopt}, 0).empty());
}
