// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/workshop.hpp"

#include <catch2/catch.hpp>

#include "tests/core/report/workshop/played.hpp"

using namespace eyelevel;
using namespace eyelevel::report::workshop;

TEST_CASE("workshop: the check unit is charted by bench, apart from the units", "[report]") {
  test::Play play;
  play.check_unit = "LF2-CHECK";
  const auto seen = workshop_of({}, test::played(play), {"level_pressed", "LF2-CHECK", {}});
  CHECK(seen.readings == 120);
  REQUIRE(seen.checks.size() == 3);
  CHECK(seen.checks[0].series.points.size() == 10);
  REQUIRE(seen.benches.size() == 3);
  CHECK(seen.benches[0].series.points.size() == 30);
  CHECK(seen.unit == "V");
}

TEST_CASE("workshop: an operator who reads low is found beside a bench that drifts", "[report]") {
  test::Play play;
  play.readings = 360;
  play.drifting = "bench 2";
  play.drift = 0.95;
  play.drift_from = 200;
  play.hasty = "cem";
  play.hasty_v = -0.03;
  const auto seen = workshop_of({}, test::played(play), {"level_pressed", "", {}});
  REQUIRE(seen.operators);
  const auto& groups = seen.operators->result.groups;
  REQUIRE(groups.size() == 3);
  CHECK(groups[2].name == "cem");
  CHECK(groups[2].is_off());
  CHECK(groups[2].difference == Approx(-0.03).margin(groups[2].half_width));
  REQUIRE(seen.operators->off.size() == 1);  // who reads low does not make the others read high
  CHECK(seen.operators->off[0].name == "cem");
  REQUIRE(seen.benches[1].change);
  CHECK_FALSE(seen.benches[0].change);
}

TEST_CASE("workshop: a person who alone serves a bench is not told apart from it", "[report]") {
  test::Play play;
  play.benches = {"bench 1"};
  play.people = {"anna"};
  const auto seen = workshop_of({}, test::played(play), {"level_pressed", "", {}});
  CHECK_FALSE(seen.operators);
  REQUIRE(seen.notes.size() == 1);
  CHECK_THAT(seen.notes[0], Catch::Contains("by anna alone"));
}

TEST_CASE("workshop: capability is of the newest limit and says whether the charts were stable", "[report]") {
  test::Play play;
  auto rows = test::played(play);
  for (std::size_t i = 60; i < rows.size(); ++i) rows[i].limit = metrology::Limit{1.0, 1.4};  // the older half
  const auto seen = workshop_of({}, rows, {"level_pressed", "", {}});
  REQUIRE(seen.capable.size() == 1);
  CHECK(seen.capable[0].count == 60);
  CHECK(seen.capable[0].limit.at_least == 1.08);
  // 0.12 V in three standard deviations of sqrt(0.02^2 + 0.01^2): 1.79
  CHECK(seen.capable[0].figures.nearest_range.low < 1.79);
  CHECK(seen.capable[0].figures.nearest_range.high > 1.79);
  const bool stable = std::all_of(seen.benches.begin(), seen.benches.end(),
                                  [](const Charted& c) { return !c.change && c.charts->is_in_control(); });
  CHECK(seen.capable[0].is_stable == stable);
}

TEST_CASE("workshop: readings in another unit are left out, and told", "[report]") {
  auto rows = test::played({});
  rows.back().unit = "mV";
  const auto seen = workshop_of({}, rows, {"level_pressed", "", {}});
  CHECK(seen.readings == 119);
  CHECK_THAT(seen.notes.at(0), Catch::Contains("1 reading of level_pressed in another unit than V is left out"));
}

TEST_CASE("workshop: no rows at all are no error", "[report]") {
  const auto seen = workshop_of({}, {}, {"level_pressed", "LF2-CHECK", {}});
  CHECK(seen.benches.empty());
  CHECK_FALSE(seen.operators);
  CHECK_THAT(seen.notes.at(0), Catch::Contains("no reading of the check unit LF2-CHECK"));
}
