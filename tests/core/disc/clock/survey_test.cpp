// SPDX-License-Identifier: Apache-2.0
#include "core/disc/clock/survey.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <limits>
#include <numeric>

#include "tests/support/eye_renderer.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;

namespace {

double mean_of(const clock::Survey& survey) {
  return std::accumulate(survey.block_sum.begin(), survey.block_sum.end(), 0.0) / static_cast<double>(survey.samples);
}

}  // namespace

TEST_CASE("survey: mean, extremes, height and noise of an eye are those it was rendered with", "[disc]") {
  support::EyeSettings settings;
  settings.duration_s = 0.005;
  settings.noise_v = 0.02;
  const support::Eye eye = support::render(settings);
  const clock::Survey s = clock::survey(eye.view().codes, eye.rate_hz);
  CHECK(mean_of(s) == Approx(eye.truth.mean_v).margin(0.001));
  CHECK(s.high == Approx(2.0 + 4 * 0.02).margin(0.03));  // the highest of some 10 000 settled samples: 3.9 sd
  CHECK(s.low == Approx(0.7 - 4 * 0.02).margin(0.03));
  CHECK(s.amplitude == Approx(1.3 + 6 * 0.02).margin(0.05));
  CHECK(s.noise == Approx(0.02).epsilon(0.25));  // the bends of the signal itself add to it
  CHECK(s.share_between() == 0);
  for (std::size_t i = 0; i < s.block_low.size(); ++i) CHECK_FALSE(s.is_dropout(i));
}

TEST_CASE("survey: the mean of integer codes is exact", "[disc]") {
  std::vector<std::int16_t> codes;
  for (int i = 0; i < 100001; ++i) codes.push_back(static_cast<std::int16_t>(i % 2 == 0 ? 32767 : -32768));
  const signal::CodesView view = std::span<const std::int16_t>(codes);
  // 50001 times 32767 and 50000 times -32768.
  CHECK(mean_of(clock::survey(view, 1e9)) == Approx((50001.0 * 32767 - 50000.0 * 32768) / 100001));
}

TEST_CASE("survey: a spot is dimmed with its borders, a dark part is a dropout", "[disc]") {
  support::EyeSettings settings;
  settings.duration_s = 0.01;
  settings.light = [](double t) { return std::abs(t - 0.005) < 115e-6 ? 0.05 : 1.0; };
  const support::Eye eye = support::render(settings);
  const clock::Survey s = clock::survey(eye.view().codes, eye.rate_hz);
  const std::size_t middle = s.block_of(100000);
  CHECK(s.is_dropout(middle));
  for (std::size_t i = 0; i < s.block_dimmed.size(); ++i) {
    const double at = (static_cast<double>(i) + 0.5) * static_cast<double>(s.block) / eye.rate_hz;
    if (std::abs(at - 0.005) < 115e-6) CHECK(s.block_dimmed[i] != 0);
    if (std::abs(at - 0.005) > 250e-6) CHECK(s.block_dimmed[i] == 0);
  }
}

TEST_CASE("survey: crossing tracks shows as a height between open and closed", "[disc]") {
  support::EyeSettings settings;
  settings.duration_s = 0.01;
  settings.contrast = [](double t) { return 0.55 + 0.45 * std::cos(6.2832 * 1000 * t); };
  const support::Eye eye = support::render(settings);
  CHECK(clock::survey(eye.view().codes, eye.rate_hz).share_between() > 0.25);
}

TEST_CASE("survey: samples at the rails are counted at each end", "[disc]") {
  const std::vector<std::int8_t> codes = {-128, -128, -127, 0, 126, 127, 127, 127};
  const clock::AtRails at = clock::at_rails(std::span<const std::int8_t>(codes), -128, 127);
  CHECK(at.low == 2);
  CHECK(at.high == 3);
}

TEST_CASE("survey: a sample that is no number becomes the one before it", "[disc]") {
  const float nan = std::numeric_limits<float>::quiet_NaN(), inf = std::numeric_limits<float>::infinity();
  const std::vector<float> volts = {nan, 1, 2, inf, nan, 3};
  const auto clean = clock::with_finite_samples(std::span<const float>(volts));
  REQUIRE(clean);
  CHECK(*clean == std::vector<float>{1, 1, 2, 2, 2, 3});
  CHECK(clock::no_numbers(std::span<const float>(volts)) == 3);
  const std::vector<float> good = {1, 2};
  CHECK_FALSE(clock::with_finite_samples(std::span<const float>(good)));
}

TEST_CASE("survey: an eye far lower than the usual one is a fault all over", "[disc]") {
  support::EyeSettings settings;
  settings.duration_s = 0.005;
  const support::Eye eye = support::render(settings);
  const clock::Survey by_itself = clock::survey(eye.view().codes, eye.rate_hz);
  CHECK(std::count(by_itself.block_dimmed.begin(), by_itself.block_dimmed.end(), 0) > 0);
  const clock::Survey beside = clock::survey(eye.view().codes, eye.rate_hz, 3 * by_itself.amplitude);
  CHECK(beside.amplitude == 3 * by_itself.amplitude);
  CHECK(std::count(beside.block_dimmed.begin(), beside.block_dimmed.end(), 0) == 0);
  CHECK(beside.is_dropout(0));
}
