// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/verb/adjusted_unit.hpp"

using namespace eyelevel;
using Catch::Matchers::Contains;
using Catch::Matchers::StartsWith;
using metrology::Judgement;
using test::AdjustedUnit;

TEST_CASE("adjusting: a level too low is brought within its limits, each turn advised and done with the player off",
          "[sequence]") {
  AdjustedUnit unit(0.98);
  const auto result = unit.run();
  REQUIRE_FALSE(result.error);
  CHECK(result.judgement == Judgement::pass);
  REQUIRE(result.readings.size() == 1);
  CHECK(result.readings[0].name == "level_after");
  const auto advised = unit.bench.journal.of<event::Advised>();
  REQUIRE_FALSE(advised.empty());
  CHECK(advised.size() <= 5);
  CHECK(advised[0].turn == 1);
  CHECK(advised[0].clockwise_deg == 5);
  CHECK(advised[0].from == Approx(0.98).margin(0.03));
  CHECK(unit.causes().empty());
}

TEST_CASE("adjusting: each turn is off, turn, on, in this order", "[sequence]") {
  AdjustedUnit unit(1.04);
  unit.run();
  REQUIRE(unit.bench.person.asked.size() >= 3);
  CHECK(unit.bench.person.asked[0] == "Switch the player off");
  CHECK_THAT(unit.bench.person.asked[1], StartsWith("Turn the laser trimmer clockwise by 5 degrees, about a") &&
                                             Contains("with an insulated driver"));
  CHECK(unit.bench.person.asked[2] == "Switch the player on and start track 2");
}

TEST_CASE("adjusting: a level that is right is left alone", "[sequence]") {
  AdjustedUnit unit(1.2);
  const auto result = unit.run();
  CHECK(result.judgement == Judgement::pass);
  CHECK(unit.bench.person.asked.empty());
  CHECK(unit.bench.journal.of<event::Advised>().empty());
  REQUIRE(unit.bench.journal.of<event::Aimed>().size() == 1);
  CHECK(unit.bench.journal.of<event::Aimed>()[0].ceiling == 1.45);
}

TEST_CASE("adjusting: nothing is turned while the pad still shows light", "[sequence]") {
  AdjustedUnit unit(1.0);
  unit.obeys_off = false;
  const auto result = unit.run();
  REQUIRE(result.error);
  CHECK_THAT(result.error->message, Contains("the pad still shows light"));
  for (const std::string& asked : unit.bench.person.asked) CHECK_THAT(asked, !Contains("Turn the laser trimmer"));
}

TEST_CASE("adjusting: above the ceiling the operator is told to switch off before anything else", "[sequence]") {
  AdjustedUnit unit(1.5);
  const auto result = unit.run();
  REQUIRE_FALSE(unit.bench.person.asked.empty());
  CHECK_THAT(unit.bench.person.asked[0], Contains("above the ceiling of 1.45 V. Switch the player off now"));
  CHECK(result.judgement == Judgement::pass);
}

TEST_CASE("adjusting: a level that does not follow is found, and fails", "[sequence]") {
  AdjustedUnit unit(1.0);
  unit.per_deg = 0;
  const auto result = unit.run();
  CHECK(result.judgement == Judgement::fail);
  CHECK(unit.causes() == std::vector<std::string>{"the level does not follow the trimmer"});
}

TEST_CASE("adjusting: a driver at its limit leaves no position within limits", "[sequence]") {
  AdjustedUnit unit(0.9);
  unit.most_v = 1.0;
  const auto result = unit.run();
  CHECK(result.judgement == Judgement::fail);
  CHECK(unit.causes() == std::vector<std::string>{"no trimmer position within limits"});
}

TEST_CASE("adjusting: after its turns it gives up and says where it got to", "[sequence]") {
  AdjustedUnit unit(0.85);
  unit.per_deg = 0.004;
  const auto result = unit.run("at most 1");
  CHECK(result.judgement == Judgement::fail);
  CHECK(unit.causes() == std::vector<std::string>{"not within limits after all turns"});
}

TEST_CASE("adjusting: who forgets to switch on is asked again", "[sequence]") {
  AdjustedUnit unit(1.04);
  int forgotten = 0;
  const auto does = unit.bench.person.does;
  unit.bench.person.does = [&](const std::string& text) {
    if (text.starts_with("Switch the player on") && forgotten++ == 0) return;
    does(text);
  };
  const auto result = unit.run();
  CHECK(result.judgement == Judgement::pass);
  CHECK(forgotten > 1);
}
