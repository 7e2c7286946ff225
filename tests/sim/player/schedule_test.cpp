// SPDX-License-Identifier: Apache-2.0
#include "sim/player/schedule.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "core/base/error.hpp"
#include "sim/player/loaded_disc.hpp"
#include "tests/sim/player/discs.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;

namespace {

std::shared_ptr<const LoadedDisc> loaded() {
  return std::make_shared<const LoadedDisc>(test::shared(test::flat_disc()), ideal_player({}), base::Random(1));
}

}  // namespace

TEST_CASE("schedule: before the first segment the player is off, each segment lasts until the next", "[player]") {
  Schedule schedule;
  schedule.append({.state = PlayerState::standby, .from_s = 10});
  schedule.append({.state = PlayerState::no_disc, .from_s = 12});
  CHECK(schedule.segment_at(-5).state == PlayerState::off);
  CHECK(schedule.segment_at(9.999).state == PlayerState::off);
  CHECK(schedule.segment_at(10).state == PlayerState::standby);
  CHECK(schedule.end_of_segment_s(10) == 12);
  CHECK(std::isinf(schedule.end_of_segment_s(13)));
  CHECK_THROWS_AS(schedule.append({.from_s = 11}), base::Error);
}

TEST_CASE("schedule: a cut forgets the future and keeps the past", "[player]") {
  Schedule schedule;
  schedule.append({.state = PlayerState::standby, .from_s = 10});
  schedule.append({.state = PlayerState::no_disc, .from_s = 12});
  schedule.cut(11);
  CHECK(schedule.segment_at(13).state == PlayerState::standby);
  schedule.append({.state = PlayerState::stopped, .from_s = 11});
  CHECK(schedule.segment_at(10.5).state == PlayerState::standby);
  CHECK(schedule.segment_at(11).state == PlayerState::stopped);
}

TEST_CASE("schedule: paused, the turn before the place is read again and again", "[player]") {
  Schedule schedule;
  const auto disc = loaded();
  const double turn_s = disc->spiral().turn_s(100);
  schedule.append({.state = PlayerState::paused, .from_s = 5, .place_s = 100, .disc = disc});
  const auto third = schedule.stretch_at(5 + 2.5 * turn_s);
  CHECK(third.from_s == Approx(5 + 2 * turn_s));
  CHECK(third.until_s == Approx(5 + 3 * turn_s));
  CHECK(third.place_at(third.from_s) == Approx(100 - turn_s));
  CHECK(third.place_at(third.until_s) == Approx(100));
}

TEST_CASE("schedule: a burst reader gains at its speed for half of each period and then stands", "[player]") {
  Schedule schedule;
  schedule.append(
      {.state = PlayerState::playing, .from_s = 0, .place_s = 50, .speed = 2, .burst_period_s = 4, .disc = loaded()});
  CHECK(schedule.stretch_at(1.5).place_at(1.5) == Approx(53));
  CHECK(schedule.stretch_at(4.0).place_at(4.0) == Approx(54));  // as much as at 1x
  CHECK(schedule.stretch_at(5.0).place_at(5.0) == Approx(56));
  for (double time_s = 2; time_s < 4; time_s += 0.13) {
    const auto standing = schedule.stretch_at(time_s);
    CHECK(standing.place_at(time_s) <= 54);
    CHECK(standing.place_at(time_s) > 54 - 0.15);
    CHECK(standing.until_s <= 4);
  }
}

TEST_CASE("schedule: which states light the laser and which follow the track", "[player]") {
  CHECK(laser_is_lit(PlayerState::searching));
  CHECK_FALSE(laser_is_lit(PlayerState::stopped));
  CHECK_FALSE(laser_is_lit(PlayerState::no_disc));
  CHECK(reads_the_disc(PlayerState::paused));
  CHECK_FALSE(reads_the_disc(PlayerState::tracking_open));
}
