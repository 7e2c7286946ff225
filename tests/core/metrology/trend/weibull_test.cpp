// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/trend/weibull.hpp"

#include <catch2/catch.hpp>

#include <limits>

#include "core/base/error.hpp"
#include "core/base/random.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using metrology::trend::Lived;
using metrology::trend::weibull_of;
using test::example;
using test::number;
using test::numbers;

TEST_CASE("Weibull: ten of twenty failed before 500 hours", "[metrology]") {
  // NIST/SEMATECH e-Handbook 8.4.1.3 (examples.json "weibull_mle_censored"): shape 1.7208, scale 606.53; computed
  // digits to 1e-8; profile likelihood: shape 0.91 to 2.89, so wear is not proved.
  const auto computed = example("weibull_mle_censored").at("computed");
  const auto data = test::table("measurement/weibull_censored.csv");
  std::vector<Lived> lives;
  for (std::size_t i = 0; i < data.at("hours").size(); ++i) {
    lives.push_back({data.at("hours")[i], data.at("failed")[i] == 1});
  }
  const auto got = weibull_of(lives);
  CHECK(got.failed == 10);
  CHECK(got.count == 20);
  CHECK(got.shape == Approx(number(computed.at("shape"))).epsilon(1e-8));
  CHECK(got.scale == Approx(number(computed.at("scale"))).epsilon(1e-8));
  CHECK(got.log_likelihood == Approx(number(computed.at("log_likelihood"))).epsilon(1e-8));
  CHECK(got.hours_until(0.1) == Approx(number(computed.at("b10_life"))).epsilon(1e-8));
  CHECK(got.survival(1000) == Approx(number(computed.at("reliability_1000h"))).epsilon(1e-8));
  const auto profile = computed.at("profile_likelihood_95");
  CHECK(got.shape_range.low == Approx(numbers(profile.at("shape"))[0]).epsilon(1e-8));
  CHECK(got.shape_range.high == Approx(numbers(profile.at("shape"))[1]).epsilon(1e-8));
  CHECK(got.scale_range.low == Approx(numbers(profile.at("scale"))[0]).epsilon(1e-8));
  CHECK(got.scale_range.high == Approx(numbers(profile.at("scale"))[1]).epsilon(1e-8));
}

TEST_CASE("Weibull: hours in another unit change the scale only", "[metrology]") {
  const std::vector<Lived> lives{{100, true}, {250, true}, {320, true}, {400, false}};
  std::vector<Lived> in_seconds = lives;
  for (Lived& life : in_seconds) life.hours *= 3600;
  const auto a = weibull_of(lives);
  const auto b = weibull_of(in_seconds);
  CHECK(b.shape == Approx(a.shape).epsilon(1e-10));
  CHECK(b.scale == Approx(3600 * a.scale).epsilon(1e-10));
  CHECK(b.scale_range.high == Approx(3600 * a.scale_range.high).epsilon(1e-8));
}

TEST_CASE("Weibull: two failures among many leave the scale without an upper end", "[metrology]") {
  std::vector<Lived> lives(60, Lived{500, false});
  lives[0] = {20, true};
  lives[1] = {300, true};
  const auto got = weibull_of(lives);
  CHECK(got.scale_range.low > 500);
  CHECK(got.scale_range.high == std::numeric_limits<double>::infinity());
}

TEST_CASE("Weibull: the ranges hold the truth nearly as often as they say", "[metrology]") {
  // 500 sets of 30 units with shape 2, scale 1000, watched for 1100 h. The likelihood's chi-squared is a large-sample
  // form: a few per cent less than stated are known of small sets, so 0.91 to 0.98 is asked of the shape and the scale.
  base::Random random(9, "weibull");
  constexpr int sets = 500;
  int shape = 0;
  int scale = 0;
  for (int i = 0; i < sets; ++i) {
    std::vector<Lived> lives;
    for (int k = 0; k < 30; ++k) {
      const double life = 1000 * std::sqrt(-std::log1p(-random.uniform()));
      lives.push_back({std::min(life, 1100.0), life < 1100});
    }
    const auto got = weibull_of(lives);
    shape += got.shape_range.low <= 2 && 2 <= got.shape_range.high;
    scale += got.scale_range.low <= 1000 && 1000 <= got.scale_range.high;
  }
  CHECK(static_cast<double>(shape) / sets == Approx(0.945).margin(0.035));
  CHECK(static_cast<double>(scale) / sets == Approx(0.945).margin(0.035));
}

TEST_CASE("Weibull: no spread of failures and hours of 0 are refused", "[metrology]") {
  CHECK_THROWS_WITH(weibull_of(std::vector<Lived>{{100, true}, {100, true}, {500, false}}),
                    Catch::Contains("failures at 1 different times among 3 units"));
  CHECK_THROWS_WITH(weibull_of(std::vector<Lived>{{0, true}, {100, true}}), Catch::Contains("unit 0 lived 0 hours"));
  CHECK_THROWS_AS(weibull_of({}), base::Error);
}
