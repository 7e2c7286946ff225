// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/tally.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;

TEST_CASE("tally: counts endings, and each trouble of a unit by what became of it", "[sim]") {
  sim::UnitOutcome healthy, troubled;
  healthy.result.ended = "finished";
  healthy.result.judgement = metrology::Judgement::pass;
  troubled.result.ended = "stopped";
  troubled.troubles = {"laser dead", "hum"};
  troubled.caught = sim::Caught::named;
  sim::Tally tally;
  tally.add(healthy);
  tally.add(troubled);
  troubled.caught = sim::Caught::wrong_pass;
  troubled.wrong = "it passed";
  tally.add(troubled);
  CHECK(tally.units() == 3);
  CHECK(tally.wrong() == 1);
  CHECK(tally.wrong_passes() == 1);
  CHECK(tally.endings().at("pass") == 1);
  CHECK(tally.endings().at("stopped") == 2);
  CHECK(tally.endings().at("undecided") == 0);
  const auto& hum = tally.troubles().at("hum");
  CHECK(hum.units == 2);
  CHECK(hum.caught.at(sim::Caught::named) == 1);
  CHECK(hum.caught.at(sim::Caught::wrong_pass) == 1);
}
