// SPDX-License-Identifier: Apache-2.0
#include "core/signal/average.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <limits>

#include "core/base/error.hpp"
#include "core/base/random.hpp"

using namespace eyelevel;

TEST_CASE("average: noise falls with the square root of the count, the waveform stays", "[signal]") {
  // 64 waveforms of a 1 V ramp in 1000 samples, noise 50 mV in steps of 10 mV codes: the average scatters about the
  // truth by 50/8 mV; its rms over 1000 samples by 1/sqrt(2000) of that: five of these allowed. The code's own step
  // adds 10/sqrt(12) mV in square to the noise.
  base::Random random(5, "average");
  constexpr std::size_t n = 1000;
  constexpr double sigma_v = 0.05;
  constexpr double step_v = 0.01;
  const double whole_v = std::sqrt(sigma_v * sigma_v + step_v * step_v / 12);
  signal::WaveformAverage average;
  for (int k = 0; k < 64; ++k) {
    std::vector<std::int8_t> codes(n);
    for (std::size_t i = 0; i < n; ++i) {
      const double v = static_cast<double>(i) / n - 0.5 + random.normal(0, sigma_v);
      codes[i] = static_cast<std::int8_t>(std::lround(v / step_v));
    }
    average.push({std::span(codes), 20e6, step_v, 0.5, std::nullopt});
  }
  const auto result = average.result();
  CHECK(average.count() == 64);
  CHECK(result.rate_hz == 20e6);
  double squares = 0;
  for (std::size_t i = 0; i < n; ++i) squares += std::pow(result.view().volts(i) - static_cast<double>(i) / n, 2);
  CHECK(std::sqrt(squares / n) == Approx(whole_v / 8).epsilon(5 / std::sqrt(2.0 * n)));
  CHECK(average.noise_sd_v() == Approx(whole_v).epsilon(5 / std::sqrt(2.0 * 63 * n)));
}

TEST_CASE("average: scales may differ, each waveform counts in volts", "[signal]") {
  const std::vector<std::int8_t> coarse{10, 20};
  const std::vector<std::int16_t> fine{3000, 4000};
  signal::WaveformAverage average;
  average.push({std::span(coarse), 1e6, 0.1, 0, std::nullopt});
  average.push({std::span(fine), 1e6, 0.001, 1, std::nullopt});
  CHECK(average.result().view().volts(0) == Approx(2.5));
  CHECK(average.result().view().volts(1) == Approx(3.5));
}

TEST_CASE("average: what does not fit is refused and leaves the average as it was", "[signal]") {
  signal::WaveformAverage average;
  CHECK_THROWS_AS(average.result(), base::Error);
  const std::vector<float> first{1, 2};
  average.push({std::span(first), 1e6, 1, 0, std::nullopt});
  CHECK_THROWS_AS(average.noise_sd_v(), base::Error);
  const std::vector<float> longer{1, 2, 3};
  CHECK_THROWS_WITH(average.push({std::span(longer), 1e6, 1, 0, std::nullopt}),
                    Catch::Contains("waveform 2 of the average has 3 samples, the first had 2"));
  CHECK_THROWS_WITH(average.push({std::span(first), 2e6, 1, 0, std::nullopt}), Catch::Contains("samples per second"));
  const std::vector<float> strange{1, std::numeric_limits<float>::quiet_NaN()};
  CHECK_THROWS_WITH(average.push({std::span(strange), 1e6, 1, 0, std::nullopt}),
                    Catch::Contains("sample 1 of waveform 2"));
  CHECK(average.count() == 1);
  CHECK(average.result().view().volts(1) == 2);
  average.reset();
  CHECK(average.count() == 0);
  average.push({std::span(longer), 1e6, 1, 0, std::nullopt});
  CHECK(average.result().size() == 3);
}
