// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/turning.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::sim;

namespace {

TurnDone turn(double asked_deg, double turned_deg, std::optional<double> highest_v) {
  return {asked_deg, turned_deg, highest_v};
}

}  // namespace

TEST_CASE("turning: a turn against the advice counts among all, not among those that followed it") {
  const std::vector<TurnDone> turns{turn(4, 3.5, 1.1), turn(6, -5, 1.5), turn(6, 7, 1.2)};
  CHECK(highest_v(turns, true) == 1.2);
  CHECK(highest_v(turns, false) == 1.5);
}

TEST_CASE("turning: without a turn there is no highest level") {
  CHECK_FALSE(highest_v({}, false));
  CHECK_FALSE(highest_v({turn(4, 4, std::nullopt)}, true));
}

TEST_CASE("turning: what was asked stands in the words, what came out in the deed") {
  const Player player(ideal_player(ModelTraits{}));
  const std::vector<SimulatedOperator::Done> deeds{
      {1, DeedKind::switch_off, {}, 0},
      {2, DeedKind::turn_trimmer, "turn the laser trimmer anticlockwise by 5 degrees", -5.5},
      {9, DeedKind::switch_on, {}, 0}};
  const auto turns = turns_done(player, deeds, 20);
  REQUIRE(turns.size() == 1);
  CHECK(turns[0].asked_deg == -5);
  CHECK(turns[0].turned_deg == -5.5);
  CHECK(turns[0].is_as_asked());
  CHECK_FALSE(turns[0].highest_v);  // no disc in it, nothing plays
}
