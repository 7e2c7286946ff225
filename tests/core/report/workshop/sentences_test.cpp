// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/sentences.hpp"

#include <catch2/catch.hpp>

#include "tests/core/report/workshop/played.hpp"

using namespace eyelevel;
using namespace eyelevel::report::workshop;
using metrology::Judgement;

namespace {

std::string told(const Workshop& workshop) {
  std::string all;
  for (const std::string& sentence : sentences(workshop)) all += sentence + "\n";
  return all;
}

std::string told(const test::Play& play) {
  return told(workshop_of({}, test::played(play), {"level_pressed", play.check_unit, {}}));
}

test::Play drifting() {
  test::Play play;
  play.readings = 240;
  play.check_unit = "LF2-CHECK";
  play.drifting = "bench 2";
  play.drift = 0.96;
  play.drift_from = 120;
  return play;
}

}  // namespace

TEST_CASE("sentences: a drifting bench is named by its check unit, with since when and where first seen", "[report]") {
  const std::string all = told(drifting());
  CAPTURE(all);
  CHECK_THAT(all, Catch::StartsWith("bench 2 reads the check unit LF2-CHECK "));
  CHECK_THAT(all, Catch::Contains("low since 2030-01-1"));
  CHECK_THAT(all, Catch::Contains("first seen 2030-01-1"));
  CHECK_THAT(all, !Catch::Contains("bench 1 reads") && !Catch::Contains("bench 3 reads"));
  CHECK_THAT(all, Catch::Contains("bench 2 reads LF-2 ") && Catch::Contains(". Its check unit says the same."));
}

TEST_CASE("sentences: without a check unit the units' own difference is kept in mind", "[report]") {
  test::Play play = drifting();
  play.check_unit.clear();
  CHECK_THAT(told(play), Catch::Contains("Units differ: measure a check unit there"));
}

TEST_CASE("sentences: when all benches move together it is not one bench", "[report]") {
  auto rows = test::played({});
  for (std::size_t i = 0; i < rows.size() / 2; ++i) rows[i].value *= 0.9;  // the newer half
  const std::string all = told(workshop_of({}, rows, {"level_pressed", "", {}}));
  CHECK_THAT(all, Catch::Contains("So do the other benches: look at the disc"));
}

TEST_CASE("sentences: units that change while the check unit does not are not the bench's fault", "[report]") {
  test::Play play;
  play.readings = 240;
  play.check_unit = "LF2-CHECK";
  auto rows = test::played(play);
  for (std::size_t i = 0; i < rows.size() / 2; ++i)
    if (rows[i].bench == "bench 3" && rows[i].serial != "LF2-CHECK") rows[i].value *= 0.93;
  const std::string all = told(workshop_of({}, rows, {"level_pressed", "LF2-CHECK", {}}));
  CHECK_THAT(all, Catch::Contains("bench 3 reads") && Catch::Contains("Its check unit does not show it"));
}

TEST_CASE("sentences: an operator who reads otherwise, or scatters more, is named with an interval", "[report]") {
  test::Play play;
  play.readings = 240;
  play.hasty = "ben";
  play.hasty_v = -0.04;
  play.hasty_more_sd = 0.05;
  const std::string all = told(play);
  CHECK_THAT(all, Catch::Contains("ben reads") && Catch::Contains("lower than the others") &&
                      Catch::Contains("Readings by ben scatter more"));
  CHECK_THAT(all,
             !Catch::Contains("Readings by anna") && !Catch::Contains("anna reads") && !Catch::Contains("cem reads"));
}

TEST_CASE("sentences: of two operators it is not said which one is wrong", "[report]") {
  test::Play play;
  play.readings = 240;
  play.people = {"anna", "ben"};
  play.hasty = "ben";
  play.hasty_v = -0.04;
  const std::string all = told(play);
  CHECK_THAT(all, Catch::Contains("Which of the two does it otherwise, these readings do not tell."));
  CHECK_THAT(all, !Catch::Contains("Watch how"));
}

TEST_CASE("sentences: a yield that lies apart is said with its interval", "[report]") {
  const std::vector<record::Tally> tallies{test::played_tally("2030-01-07", "bench 1", Judgement::pass, 95),
                                           test::played_tally("2030-01-07", "bench 1", Judgement::fail, 5),
                                           test::played_tally("2030-01-07", "bench 2", Judgement::pass, 60),
                                           test::played_tally("2030-01-07", "bench 2", Judgement::fail, 40)};
  CHECK_THAT(told(workshop_of(tallies, {}, {})),
             Catch::Contains("bench 2: 60.0 % of 100 judged runs pass (50.2 % to 69.1 %), of all others 95.0 %."));
}

TEST_CASE("sentences: a reading that lies badly within its limits is said with confidence", "[report]") {
  test::Play play;
  play.level_v = 1.1;
  CHECK_THAT(told(play), Catch::Contains("level_pressed of LF-2 does not lie well within 1.08 V to 1.32 V"));
}

TEST_CASE("sentences: a workshop without trouble is said to be so, an empty one too", "[report]") {
  CHECK_THAT(told(test::Play{}), Catch::StartsWith("Nothing stands out"));
  CHECK_THAT(told(workshop_of({}, {}, {})), Catch::StartsWith("There is nothing to tell from"));
}

TEST_CASE("sentences: a bench that goes off little by little is said as so much a week", "[report]") {
  test::Play play;
  play.readings = 300;
  play.unit_sd = play.reading_sd = 0.005;
  play.drifting = "bench 1";
  play.drift = 0.9;
  play.is_gradual = true;
  CHECK_THAT(told(play), Catch::Contains("bench 1 reads LF-2 ever lower, by ") && Catch::Contains("% a week"));
}
