// SPDX-License-Identifier: Apache-2.0
// Times of the states and failure figures: design values (servo.hpp).
#include "sim/player/player.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "core/base/error.hpp"
#include "tests/sim/player/discs.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;

namespace {

// The first moment of a state, looking in steps of a millisecond; negative if it does not come within a minute.
double first_s(const Player& player, PlayerState state, double from_s = 0) {
  for (int i = 0; i < 60000; ++i) {
    const double time_s = from_s + i * 1e-3;
    if (player.state_at(time_s) == state) return time_s;
  }
  return -1;
}

Player playing(PlayerParameters unit, const Disc& disc = test::flat_disc(), int track = 2) {
  Player player(unit);
  player.insert(test::shared(disc), 0);
  player.switch_on(1);
  player.start_track(track, 2);
  return player;
}

}  // namespace

TEST_CASE("player: switched on with a disc and asked for a track, goes through its states in order to that track",
          "[player]") {
  auto player = playing(ideal_player({}));
  CHECK(player.state_at(0.5) == PlayerState::off);
  double last_s = 0;
  for (const PlayerState state :
       {PlayerState::standby, PlayerState::searching, PlayerState::tracking_open, PlayerState::spin_up,
        PlayerState::contents, PlayerState::seeking, PlayerState::playing}) {
    const double time_s = first_s(player, state);
    INFO(name_of(state));
    CHECK(time_s > last_s);
    last_s = time_s;
  }
  CHECK(last_s - 1 > 2);
  CHECK(last_s - 1 < 15);
  CHECK(player.track_at(last_s + 1) == 2);
  const auto& track = *player.disc()->contents->track(2);
  CHECK(*player.place_s_at(last_s) == Approx(static_cast<double>(track.start) / 75).margin(0.01));
  CHECK(*player.place_s_at(last_s + 3) - *player.place_s_at(last_s) == Approx(3).margin(1e-9));
}

TEST_CASE("player: without a disc it gives up after three tries; without supply it is off", "[player]") {
  Player player(ideal_player({}));
  CHECK_FALSE(player.start_track(1, 0.5));
  player.switch_on(1);
  CHECK(player.state_at(20) == PlayerState::no_disc);
  CHECK_FALSE(player.start_track(1, 21));
  player.switch_off(22);
  CHECK(player.state_at(22) == PlayerState::off);
  CHECK(player.dark_v_at(21) == Approx(ModelTraits{}.reference_v));
}

TEST_CASE("player: pause stands, resume goes on, stop and removal end it", "[player]") {
  auto player = playing(ideal_player({}));
  const double place_s = *player.place_s_at(30);
  CHECK(player.pause(30));
  CHECK_FALSE(player.pause(31));
  CHECK(player.state_at(40) == PlayerState::paused);
  CHECK(*player.place_s_at(40) <= place_s);
  CHECK(*player.place_s_at(40) > place_s - 0.2);
  CHECK(player.resume(50));
  CHECK(*player.place_s_at(60) == Approx(place_s + 10).margin(0.2));
  player.stop(61);
  CHECK(player.state_at(70) == PlayerState::stopped);
  CHECK_FALSE(player.place_s_at(70));
  CHECK(player.start_track(3, 71));
  CHECK(player.track_at(85) == 3);
  player.remove_disc(90);
  CHECK(player.state_at(91) == PlayerState::no_disc);
  CHECK(player.state_at(89) == PlayerState::playing);  // the past stays
  CHECK_THROWS_AS(player.stop(80), base::Error);
}

TEST_CASE("player: data tracks are read at 2x, audio at 1x, and the disc ends stopped", "[player]") {
  auto disc = test::flat_disc();
  disc.contents =
      test::contents({.tracks_min = 3, .tracks_max = 3, .track_s_min = 30, .track_s_max = 40, .first_is_data = true});
  auto player = playing(ideal_player({}), disc, 1);
  const double from_s = first_s(player, PlayerState::playing);
  CHECK(*player.place_s_at(from_s + 5) - *player.place_s_at(from_s + 1) == Approx(8).margin(1e-6));
  player.start_track(2, from_s + 6);
  const double audio_s = first_s(player, PlayerState::playing, from_s + 6.5);
  CHECK(*player.place_s_at(audio_s + 5) - *player.place_s_at(audio_s + 1) == Approx(4).margin(1e-6));
  CHECK(player.state_at(audio_s + 200) == PlayerState::stopped);
}

TEST_CASE("player: too little light fails to focus, too much fails to load, as often as the design says", "[player]") {
  struct Row {
    double light, expected;
  };
  constexpr int units = 400;
  // Three tries with 0.66 each: 0.287. Three loads with 0.50 each at x 1.35: 0.125 (focus never fails there).
  for (const Row& row : {Row{0.3, 0.66 * 0.66 * 0.66}, Row{1.35, 0.125}, Row{1.0, 0.0}}) {
    auto disc = test::flat_disc();
    disc.light = row.light;
    int failed = 0;
    for (std::uint64_t seed = 0; seed < units; ++seed) {
      auto unit = ideal_player({});
      unit.seed = seed;
      Player player(unit);
      player.insert(test::shared(disc), 0);
      player.switch_on(0);
      failed += player.ready_s() ? 0 : 1;
    }
    const double sigma = std::sqrt(std::max(0.01, row.expected) / units);
    INFO("light " << row.light);
    CHECK(static_cast<double>(failed) / units == Approx(row.expected).margin(4 * sigma));
  }
}

TEST_CASE("player: skips come thirty times the failure probability a minute", "[player]") {
  auto disc = test::flat_disc();
  disc.light = 1.3;
  int skips = 0;
  double minutes = 0;
  for (std::uint64_t seed = 0; seed < 20; ++seed) {
    auto unit = ideal_player({});
    unit.seed = seed;
    const auto player = playing(unit, disc);
    if (!player.ready_s()) continue;
    PlayerState last = PlayerState::off;
    for (double time_s = *player.ready_s() + 5; time_s < *player.ready_s() + 65; time_s += 0.02) {
      const PlayerState now = player.state_at(time_s);
      skips += now == PlayerState::seeking && last == PlayerState::playing ? 1 : 0;
      last = now;
    }
    minutes += 1;
  }
  REQUIRE(minutes > 10);
  const double expected = skips_per_min(1.3, false) * minutes;  // about 9 a minute
  CHECK(skips == Approx(expected).margin(4.5 * std::sqrt(expected)));
}

TEST_CASE("player: with the loop wear raises the current and the level stays; a turn live is counted", "[player]") {
  auto unit = ideal_player({});
  const auto fresh = playing(unit);
  unit.laser.threshold_wear = 1.2;
  auto worn = playing(unit);
  const double time_s = 40;
  CHECK(worn.laser_at(time_s).current_ma == Approx(52).margin(0.01));
  CHECK(fresh.laser_at(time_s).current_ma == Approx(45).margin(0.01));
  CHECK(*worn.true_level_v(time_s, time_s + 1) == Approx(*fresh.true_level_v(time_s, time_s + 1)).epsilon(1e-12));
  CHECK(worn.laser_at(0.5).current_ma == 0);
  const double before_v = *worn.true_level_v(40, 41);
  worn.turn_trimmer_clockwise(10, 50);
  CHECK(worn.turns_while_on() == 1);
  CHECK(*worn.true_level_v(51, 52) > before_v * 1.05);
  CHECK(*worn.true_level_v(40, 41) == before_v);  // the past stays
}

TEST_CASE("player: the pad's reference drifts while the player warms up", "[player]") {
  auto unit = ideal_player({});
  unit.ambient_c = 20;
  unit.warm_up_k = 15;
  unit.warm_up_s = 300;
  unit.drift_v = 4e-3;
  Player player(unit);
  player.switch_on(0);
  CHECK(player.temperature_c_at(0) == Approx(20));
  CHECK(player.temperature_c_at(300) == Approx(20 + 15 * (1 - std::exp(-1))));
  CHECK(player.dark_v_at(600) - player.dark_v_at(0) == Approx(4e-3 * (1 - std::exp(-2))).epsilon(1e-9));
  player.switch_off(3000);
  CHECK(player.temperature_c_at(3300) == Approx(20 + 15 * std::exp(-1)).margin(0.01));
  CHECK(player.true_dark_v(100, 200) == Approx(player.dark_v_at(150)).margin(2e-5));
}

TEST_CASE("player: without a loop light and level fall as the player warms up", "[player]") {
  ModelTraits model;
  model.has_power_loop = false;
  auto unit = ideal_player(model);
  unit.warm_up_k = 10;
  auto player = playing(unit);
  // Reference laser, 45 mA, from 25 to 35 degrees: light 0.723.
  CHECK(player.laser_light_at(1) == Approx(1).margin(0.001));
  CHECK(player.laser_light_at(3600) == Approx(0.723).margin(0.001));
}

TEST_CASE("player: the same seed and commands give the same states", "[player]") {
  const auto unit = draw_player(3, {});
  const auto first = playing(unit), second = playing(unit);
  CHECK(*first.ready_s() == *second.ready_s());
  CHECK(first.true_level_v(40, 41) == second.true_level_v(40, 41));
}

TEST_CASE("player: a power cut puts it off at its moment, in whatever it did, until it is switched on again",
          "[player]") {
  auto unit = ideal_player({});
  unit.power_cut_s = 20;
  auto player = playing(unit);
  CHECK(player.state_at(19.9) == PlayerState::playing);
  CHECK(player.state_at(20.1) == PlayerState::off);
  CHECK(player.state_at(3000) == PlayerState::off);
  player.look(25);
  CHECK_FALSE(player.is_on());
  CHECK_FALSE(player.start_track(2, 26));
  player.switch_on(27);
  CHECK(player.start_track(2, 28));
  CHECK(player.state_at(60) == PlayerState::playing);
}

TEST_CASE("player: whose spindle does not turn finds focus and gives up", "[player]") {
  auto unit = ideal_player({});
  unit.spindle_turns = false;
  auto player = playing(unit);
  CHECK(first_s(player, PlayerState::tracking_open) > 0);
  CHECK(first_s(player, PlayerState::spin_up) < 0);
  CHECK(player.state_at(59) == PlayerState::no_disc);
  CHECK_FALSE(player.ready_s());
}
