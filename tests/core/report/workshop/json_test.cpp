// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/json.hpp"

#include <catch2/catch.hpp>

#include <boost/json/array.hpp>
#include <boost/json/serialize.hpp>

#include "tests/core/report/workshop/played.hpp"

using namespace eyelevel;
using namespace eyelevel::report::workshop;

TEST_CASE("json: a workshop holds its sentences, yields, charts, changes and operators", "[report]") {
  test::Play play;
  play.readings = 240;
  play.check_unit = "LF2-CHECK";
  play.drifting = "bench 2";
  play.drift = 0.9;
  play.drift_from = 120;
  const std::vector<record::Tally> tallies{test::played_tally("2030-01-07", "bench 1", metrology::Judgement::pass, 19),
                                           test::played_tally("2030-01-07", "bench 1", metrology::Judgement::fail, 1)};
  const auto seen = workshop_of(tallies, test::played(play), {"level_pressed", "LF2-CHECK", {}});
  const auto json = to_json(seen);
  CHECK(json.at("yield").at("all").at("yield").as_double() == Approx(0.95));
  CHECK(json.at("yield").at("by_bench").as_array().size() == 1);
  CHECK(json.at("charts").as_array().size() == 3);
  const auto& check = json.at("checks").as_array().at(1);
  CHECK(check.at("bench") == "bench 2");
  CHECK(check.at("change").at("shift").as_double() == Approx(-0.12).margin(0.03));
  CHECK(check.at("points").as_array().size() == 20);
  CHECK(check.at("individuals").at("fired").as_array().size() > 0);
  CHECK(json.at("capability").as_array().size() == 1);
  CHECK(json.at("operators").at("groups").as_array().size() == 3);
  CHECK(json.at("sentences").as_array().size() >= 1);
}

TEST_CASE("json: what is not known is null", "[report]") {
  const auto json = to_json(workshop_of({}, {}, {}));
  CHECK(json.at("yield").at("all").at("yield").is_null());
  CHECK(json.at("operators").is_null());
  CHECK(json.at("charts").as_array().empty());
}
