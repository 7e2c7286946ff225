// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/tables.hpp"

#include <catch2/catch.hpp>

#include "tests/core/report/workshop/played.hpp"

using namespace eyelevel;
using namespace eyelevel::report::workshop;

namespace {

std::string all_of(const Workshop& workshop) {
  std::string all;
  for (const std::string& line : tables(workshop)) all += line + "\n";
  return all;
}

}  // namespace

TEST_CASE("tables: yields stand with counts and interval", "[report]") {
  const std::vector<record::Tally> tallies{test::played_tally("2030-01-07", "bench 1", metrology::Judgement::pass, 19),
                                           test::played_tally("2030-01-07", "", metrology::Judgement::fail, 1),
                                           test::played_tally("2030-01-07", "", std::nullopt, 4)};
  const std::string all = all_of(workshop_of(tallies, {}, {}));
  CHECK_THAT(all, Catch::Contains("by bench") && Catch::Contains("(not said)") && Catch::Contains("95.0 %"));
}

TEST_CASE("tables: a chart tells its limits, where they come from, and each rule that fired with its run", "[report]") {
  test::Play play;
  play.drifting = "bench 2";
  play.drift = 0.9;
  play.drift_from = 90;
  const auto seen = workshop_of({}, test::played(play), {"level_pressed", "", {}});
  const std::string all = all_of(seen);
  CAPTURE(all);
  CHECK_THAT(all, Catch::Contains("LF-2 at bench 2: 40 readings, deviations from the model's mean") &&
                      Catch::Contains("from the first 20") &&
                      Catch::Contains("single readings: a point more than 3 sigma below the centre"));
  CHECK_THAT(all, Catch::Contains("(run 2030-01-"));
  CHECK_THAT(all, Catch::Contains("level_pressed within its limits") && Catch::Contains("operators, against"));
}

TEST_CASE("tables: of a workshop without runs there is nothing", "[report]") {
  CHECK(tables(workshop_of({}, {}, {})).empty());
}
