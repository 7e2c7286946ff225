// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/drift.hpp"

#include <catch2/catch.hpp>

#include "tests/core/report/workshop/played.hpp"

using namespace eyelevel;
using namespace eyelevel::report::workshop;

namespace {

std::vector<Point> points_of(test::Play play) {
  play.benches = {"bench 1"};
  return series_of(test::played(play))[0].points;
}

}  // namespace

TEST_CASE("drift: a bench that reads 4 % low from one day on is found, with since when and how sure", "[report]") {
  test::Play play;
  play.readings = 80;
  play.unit_sd = 0.01;
  play.drifting = "bench 1";
  play.drift = 0.96;
  play.drift_from = 50;
  const auto change = change_in(points_of(play), 6);
  REQUIRE(change);
  CHECK(change->after >= 49);
  CHECK(change->after <= 51);
  CHECK_FALSE(change->is_gradual);
  CHECK(change->shift() == Approx(-0.048).margin(change->half_width * 1.5));
  CHECK(change->half_width < 0.012);
  CHECK(change->since >= test::played_hour(49));
  CHECK(change->run == points_of(play)[change->after].run);
}

TEST_CASE("drift: a bench that goes off little by little is called so", "[report]") {
  test::Play play;
  play.unit_sd = 0.005;
  play.reading_sd = 0.005;
  play.drifting = "bench 1";
  play.drift = 0.9;
  play.is_gradual = true;
  const auto change = change_in(points_of(play));
  REQUIRE(change);
  CHECK(change->is_gradual);
  CHECK(change->per_day == Approx(-0.12 / 5).epsilon(0.1));  // a tenth of 1.2 V in 120 hours
}

// Simulated, seeds 1 to 300: at 1 % each, 300 series without a change may show 3 on average; 10 or more happens in
// 1 of 1000 cases (Poisson).
TEST_CASE("drift: series in which nothing changed are left alone", "[report]") {
  int found = 0;
  for (std::uint64_t seed = 1; seed <= 300; ++seed) {
    test::Play play;
    play.readings = 40;
    play.seed = seed;
    found += change_in(points_of(play)).has_value();
  }
  CHECK(found < 10);
}

TEST_CASE("drift: a long series is searched in blocks, and the change still falls near its place", "[report]") {
  test::Play play;
  play.readings = 4000;
  play.drifting = "bench 1";
  play.drift = 0.98;
  play.drift_from = 3000;
  const auto change = change_in(points_of(play));
  REQUIRE(change);
  CHECK(change->after == Approx(3000).margin(100));
  CHECK(change->count == 4000);
}

TEST_CASE("drift: too few readings tell nothing", "[report]") {
  test::Play play;
  play.readings = 7;
  CHECK_FALSE(change_in(points_of(play)));
  CHECK(levels_of({}, std::nullopt).empty());
}

TEST_CASE("drift: the level of a point follows its change, at once or along the line", "[report]") {
  std::vector<Point> points(10);
  for (std::size_t i = 0; i < points.size(); ++i) {
    points[i].at = test::played_hour(24 * i);
    points[i].deviation = static_cast<double>(i);
  }
  CHECK(levels_of(points, std::nullopt)[3] == Approx(4.5));
  Change change;
  change.after = 5;
  change.mean_before = 2;
  change.mean_after = 7;
  CHECK(levels_of(points, change)[4] == 2);
  CHECK(levels_of(points, change)[5] == 7);
  change.is_gradual = true;
  CHECK(levels_of(points, change)[4] == Approx(4));
}
