// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/charts.hpp"

#include <catch2/catch.hpp>

#include "tests/core/report/workshop/played.hpp"

using namespace eyelevel;
using namespace eyelevel::report::workshop;

namespace {

Series series_of_bench(const test::Play& play, std::size_t which = 0) { return series_of(test::played(play))[which]; }

Series of_values(const std::vector<double>& values) {
  Series series;
  for (const double value : values) {
    Point point;
    point.deviation = value;
    series.points.push_back(point);
  }
  return series;
}

}  // namespace

TEST_CASE("charts: limits come from the first twenty readings and hold for those after them", "[report]") {
  test::Play play;
  play.benches = {"bench 1"};
  play.drifting = "bench 1";
  play.drift = 1.2;
  play.drift_from = 60;
  const Series series = series_of_bench(play);
  const auto charts = charts_of(series);
  REQUIRE(charts);
  CHECK(charts->base == base_readings);
  CHECK_FALSE(charts->is_from_itself);
  const auto alone = metrology::chart::individuals(std::span(charts->individuals.points).first(20));
  CHECK(charts->individuals.limits.place.high == alone.place.high);
  REQUIRE(charts->first_signal(60));
  CHECK(*charts->first_signal(60) <= 61);  // 20 % of 1.2 V is seven standard deviations
  CHECK_FALSE(charts->is_in_control());
}

TEST_CASE("charts: which rule fired is said by its content, with every point that completed it", "[report]") {
  std::vector<double> values;
  for (int i = 0; i < 30; ++i) values.push_back(i % 2 == 0 ? 1.0 : -1.0);
  values.push_back(9.0);
  values.push_back(-1.0);
  values.push_back(9.5);
  const auto charts = charts_of(of_values(values));
  REQUIRE(charts);
  const auto& fired = charts->individuals.fired;
  const auto beyond = std::find_if(fired.begin(), fired.end(), [](const Fired& f) {
    return f.rule == "a point more than 3 sigma above the centre";
  });
  REQUIRE(beyond != fired.end());
  CHECK(beyond->points == std::vector<std::size_t>{30, 32});
  CHECK(charts->individuals.wide.front() == 30);
}

TEST_CASE("charts: averages of five are counted in readings of the series", "[report]") {
  std::vector<double> values;
  for (int i = 0; i < 40; ++i) values.push_back((i % 2 == 0 ? 1.0 : -1.0) + (i >= 30 ? 3.0 : 0.0));
  const auto charts = charts_of(of_values(values));
  REQUIRE(charts);
  REQUIRE(charts->averages);
  CHECK(charts->averages->points.size() == 8);
  REQUIRE_FALSE(charts->averages->fired.empty());
  CHECK(charts->averages->fired.front().points.front() == 34);  // the last of the first five that moved
}

TEST_CASE("charts: few readings make limits of their own, and say so", "[report]") {
  test::Play play;
  play.readings = 25;
  play.benches = {"bench 1"};
  const auto charts = charts_of(series_of_bench(play));
  REQUIRE(charts);
  CHECK(charts->is_from_itself);
  CHECK(charts->base == 25);
}

TEST_CASE("charts: limits come from before a change, where that is known and long enough", "[report]") {
  test::Play play;
  play.readings = 25;
  play.benches = {"bench 1"};
  const Series series = series_of_bench(play);
  CHECK(charts_of(series, 12)->base == 12);
  CHECK_FALSE(charts_of(series, 12)->is_from_itself);
  CHECK(charts_of(series, 3)->base == 25);
  play.readings = 100;
  CHECK(charts_of(series_of_bench(play), 60)->base == base_readings);
}

TEST_CASE("charts: too few readings, or readings that never differ, make no chart", "[report]") {
  CHECK_FALSE(charts_of(of_values({1, 2, 3, 4, 5, 6, 7})));
  CHECK_FALSE(charts_of(of_values(std::vector<double>(30, 1.0))));
}
