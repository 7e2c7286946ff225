// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/trend/life.hpp"

#include <catch2/catch.hpp>

#include <limits>

#include "core/base/error.hpp"
#include "core/base/random.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using metrology::trend::degradation_life;
using metrology::trend::life_to_limit;
using metrology::trend::LifeAnswer;
using metrology::trend::UnitVisits;
using test::example;
using test::number;
using test::numbers;

TEST_CASE("life to limit: eight visits over 4000 hours", "[metrology]") {
  // examples.json "life_trend_to_limit" (readings made up): 6878 h, 6512 to 7302 for the level, 6421 to 7393 for the
  // next reading; computed digits to 1e-8.
  const auto trend = example("life_trend_to_limit");
  const auto computed = trend.at("computed");
  const auto got = life_to_limit(numbers(trend.at("inputs").at("hours")), numbers(trend.at("inputs").at("level_v")),
                                 number(trend.at("inputs").at("limit_v")));
  REQUIRE(got.answer == LifeAnswer::known);
  CHECK(got.hours_to_limit == Approx(number(computed.at("hours_to_limit"))).epsilon(1e-8));
  CHECK(got.of_mean.low == Approx(numbers(computed.at("mean_line_95"))[0]).epsilon(1e-8));
  CHECK(got.of_mean.high == Approx(numbers(computed.at("mean_line_95"))[1]).epsilon(1e-8));
  CHECK(got.of_next_reading.low == Approx(numbers(computed.at("single_reading_95"))[0]).epsilon(1e-8));
  CHECK(got.of_next_reading.high == Approx(numbers(computed.at("single_reading_95"))[1]).epsilon(1e-8));
  CHECK(metrology::trend::slope_doubt(*got.line) == Approx(number(computed.at("g_fieller"))).epsilon(1e-7));
  CHECK_FALSE(got.is_far);
  CHECK(got.notes.empty());
}

TEST_CASE("life to limit: beyond twice the observed span it says so", "[metrology]") {
  const std::vector<double> hours{1000, 1100, 1200, 1300, 1400};
  const std::vector<double> level{1.200, 1.191, 1.179, 1.171, 1.160};  // 0.1 V in 1000 h
  const auto near = life_to_limit(hours, level, 1.13);
  CHECK_FALSE(near.is_far);
  const auto far = life_to_limit(hours, level, 1.0);
  CHECK(far.is_far);
  REQUIRE(far.notes.size() == 1);
  CHECK_THAT(far.notes[0], Catch::Contains("beyond twice the 400 hours that were observed"));
}

TEST_CASE("life to limit: readings that only scatter have no trend", "[metrology]") {
  const auto got = life_to_limit(std::vector{0.0, 500.0, 1000.0, 1500.0}, std::vector{1.20, 1.21, 1.19, 1.20}, 1.0);
  CHECK(got.answer == LifeAnswer::no_trend);
  CHECK(got.line.has_value());
  CHECK_THAT(got.notes.at(0), Catch::Contains("no trend"));
}

TEST_CASE("life to limit: two visits, or all on one day, are too few", "[metrology]") {
  CHECK(life_to_limit(std::vector{0.0, 500.0}, std::vector{1.2, 1.1}, 1.0).answer == LifeAnswer::too_few);
  const auto one_day = life_to_limit(std::vector{7.0, 7.0, 7.0}, std::vector{1.2, 1.1, 1.0}, 1.0);
  CHECK(one_day.answer == LifeAnswer::too_few);
  CHECK_FALSE(one_day.line.has_value());
}

TEST_CASE("life to limit: three visits are an answer that says how few they are", "[metrology]") {
  const auto got = life_to_limit(std::vector{0.0, 1000.0, 2000.0}, std::vector{1.2, 1.15, 1.1001}, 1.05);
  CHECK(got.answer == LifeAnswer::known);
  CHECK_THAT(got.notes.at(0), Catch::Contains("only 3 readings"));
}

TEST_CASE("life to limit: a reading that moves away from its limit never meets it", "[metrology]") {
  const std::vector<double> hours{0, 1000, 2000, 3000};
  CHECK(life_to_limit(hours, std::vector{1.2, 1.25, 1.301, 1.35}, 1.0).answer == LifeAnswer::moving_away);
  const auto met = life_to_limit(hours, std::vector{1.2, 1.25, 1.301, 1.35}, 1.28);
  CHECK(met.answer == LifeAnswer::known);
  CHECK_THAT(met.notes.at(0), Catch::Contains("has met the limit already"));
}

TEST_CASE("life to limit: the ranges hold the truth as often as they say", "[metrology]") {
  // 4000 units with 0.03 V per 1000 h, read eight times with 4 mV of scatter. of_mean holds the hours at which the true
  // level meets the limit; four standard errors of the share.
  base::Random random(5, "life");
  constexpr int units = 4000;
  int held = 0;
  for (int i = 0; i < units; ++i) {
    std::vector<double> hours;
    std::vector<double> level;
    for (int k = 0; k < 8; ++k) {
      hours.push_back(500.0 * k + random.uniform(0, 300));
      level.push_back(1.2 - 3e-5 * hours.back() + random.normal(0, 0.004));
    }
    const auto got = life_to_limit(hours, level, 1.0);
    const double truth = 0.2 / 3e-5;
    held += got.answer == LifeAnswer::known && got.of_mean.low <= truth && truth <= got.of_mean.high;
  }
  CHECK(static_cast<double>(held) / units == Approx(0.95).margin(4 * std::sqrt(0.95 * 0.05 / units)));
}

TEST_CASE("degradation lines: five components and their median life", "[metrology]") {
  // Applied Reliability, 2nd ed., p. 216 (examples.json "degradation_to_limit"): 2047 h; computed digits to 1e-8.
  const auto computed = example("degradation_to_limit").at("computed");
  const auto data = test::table("measurement/degradation_threshold_v.csv");
  std::vector<UnitVisits> units(5);
  for (std::size_t i = 0; i < data.at("hours").size(); ++i) {
    UnitVisits& unit = units.at(static_cast<std::size_t>(data.at("component")[i]) - 1);
    unit.hours.push_back(data.at("hours")[i]);
    unit.readings.push_back(data.at("threshold_v")[i]);
  }
  const auto got = degradation_life(units, 0.5);
  const auto hours = numbers(computed.at("hours_to_limit"));
  REQUIRE(got.crossing == 5);
  for (std::size_t i = 0; i < 5; ++i) CHECK(got.units[i].hours.value() == Approx(hours[i]).epsilon(1e-8));
  CHECK(got.log_mean.value() == Approx(number(computed.at("ln_mean"))).epsilon(1e-8));
  CHECK(got.log_sd.value() == Approx(number(computed.at("ln_sd"))).epsilon(1e-8));
  CHECK(got.median_hours.value() == Approx(number(computed.at("t50_h"))).epsilon(1e-8));
}

TEST_CASE("degradation lines: units that do not lead to the limit are named, not left out of sight", "[metrology]") {
  const std::vector<UnitVisits> units{{"LF2-00001", {0, 1000}, {1.2, 1.1}},
                                      {"LF2-00002", {0, 1000}, {1.1, 1.2}},
                                      {"LF2-00003", {0, 1000}, {1.2, 1.2}},
                                      {"LF2-00004", {0}, {1.2}}};
  const auto got = degradation_life(units, 1.0);
  REQUIRE(got.units.size() == 4);
  CHECK(got.units[0].hours.value() == Approx(2000));
  for (std::size_t i = 1; i < 4; ++i) CHECK_FALSE(got.units[i].hours.has_value());
  CHECK(got.crossing == 1);
  CHECK_FALSE(got.median_hours.has_value());
}

TEST_CASE("life to limit: lengths that differ and what is no number are refused", "[metrology]") {
  CHECK_THROWS_WITH(life_to_limit(std::vector{0.0, 1.0}, std::vector{1.0}, 1.0), Catch::Contains("1 readings at 2"));
  CHECK_THROWS_WITH(
      life_to_limit(std::vector{0.0, 1.0, 2.0}, std::vector{1.0, std::numeric_limits<double>::quiet_NaN(), 1.0}, 1.0),
      Catch::Contains("reading 1 is nan"));
}
