// SPDX-License-Identifier: Apache-2.0
// The truths against an ideal instrument that knows every edge (ideal_instrument.hpp): 0.05 % of the level is asked.
#include <catch2/catch.hpp>
#include <cmath>
#include <string>

#include "sim/player/player.hpp"
#include "tests/sim/player/discs.hpp"
#include "tests/sim/player/ideal_instrument.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;

namespace {

constexpr double asked = 0.0005;
const double reference_v = ModelTraits{}.reference_v;

PlayerParameters without_noise(PlayerParameters unit) {
  unit.noise_v_per_sqrt_hz = 0;
  unit.neighbour_noise = 0;
  return unit;
}

Disc without_noise(Disc disc) {
  disc.noise = 0;
  disc.jitter_ns = 0;
  return disc;
}

// A player that plays from some moment on; loading may fail by chance, then the next seed is taken.
Player playing(PlayerParameters unit, const Disc& disc, int track = 2) {
  for (;; ++unit.seed) {
    Player player(unit);
    player.insert(test::shared(disc), 0);
    player.switch_on(0);
    player.start_track(track, 1);
    if (player.ready_s()) return player;
  }
}

// A stretch of a second without a skip.
double quiet_s(const Player& player) {
  for (double from_s = *player.ready_s() + 5;; from_s += 0.5)
    if (player.state_at(from_s) == PlayerState::playing && player.schedule().end_of_segment_s(from_s) > from_s + 1)
      return from_s;
}

}  // namespace

TEST_CASE("truth: level and mean of an ideal unit on a flat disc are those of its numbers", "[player]") {
  ModelTraits model;
  model.saturation_v = 100;
  const auto player = playing(ideal_player(model), test::flat_disc());
  const double from_s = quiet_s(player);
  CHECK(*player.true_level_v(from_s, from_s + 0.1) == Approx(1.200).epsilon(2e-4));  // 11T settle to 1e-4
  CHECK(player.true_dark_v(from_s, from_s + 1) == Approx(reference_v));
  // p-p 1.200 V, m 0.70, asymmetry 0: rise = p-p (1/m - 1/2).
  CHECK(*player.true_mean_v(from_s, from_s + 1) - reference_v == Approx(1.2 * (1 / 0.70 - 0.5)).margin(0.001));
}

TEST_CASE(
    "truth: p-p 1.200 V at m 2/3 has its top at 1.800 and its rise at 1.200 V; a recordable at 0.74 rises 0.888 V",
    "[player]") {
  ModelTraits model;
  model.saturation_v = 100;
  model.nominal_modulation = 2.0 / 3;
  auto disc = test::flat_disc();
  disc.modulation = 2.0 / 3;
  const auto pressed = playing(ideal_player(model), disc);
  const double from_s = quiet_s(pressed);
  CHECK(pressed.linear_v(pressed.loaded_disc()->eye(100, 1).land) == Approx(1.800).margin(0.001));
  CHECK(*pressed.true_mean_v(from_s, from_s + 1) - reference_v == Approx(1.200).margin(0.001));
  disc.kind = DiscKind::recordable;
  disc.light = 0.74;
  const auto recordable = playing(ideal_player(model), disc);
  const double later_s = quiet_s(recordable);
  CHECK(*recordable.true_mean_v(later_s, later_s + 1) - reference_v == Approx(0.888).margin(0.001));
}

TEST_CASE("truth: outside playing there is no level and no mean", "[player]") {
  Player player(ideal_player({}));
  player.switch_on(0);
  CHECK_FALSE(player.true_level_v(5, 6));
  CHECK_FALSE(player.true_mean_v(5, 6));
}

TEST_CASE("truth: level and mean of drawn units agree with an ideal instrument over a turn", "[player]") {
  const auto contents = test::contents();
  for (std::uint64_t seed = 1; seed <= 8; ++seed) {
    ModelTraits model;
    model.light_raises_voltage = seed % 2 == 0;
    model.reference_v = seed % 2 == 0 ? reference_v : 2.5;
    if (seed > 4) model.saturation_v = 1.9;  // clips visibly
    auto unit = without_noise(draw_player(seed, model));
    if (seed % 3 == 0) unit.focus_offset_um = 1.2;
    const DiscKind kind = seed % 4 == 3 ? DiscKind::recordable : DiscKind::pressed;
    const Disc disc = without_noise(draw_disc(kind, contents, base::Random(seed, "disc")));
    const auto player = playing(unit, disc, 1 + static_cast<int>(seed % 5));
    const double from_s = quiet_s(player);
    const double turn_s = player.loaded_disc()->spiral().turn_s(*player.place_s_at(from_s));
    const double level_v = *player.true_level_v(from_s, from_s + turn_s);
    INFO("seed " << seed << ", level " << level_v << " V");
    CHECK(test::ideal_level_v(player, from_s) == Approx(level_v).epsilon(asked));
    CHECK(test::ideal_mean_v(player, from_s) ==
          Approx(*player.true_mean_v(from_s, from_s + turn_s)).margin(asked * level_v));
  }
}

TEST_CASE("truth: bobbing is averaged over the turn, not taken where it is best", "[player]") {
  auto unit = ideal_player({});
  unit.focus_offset_um = 1.5;
  unit.focus_residual_um = 1.0;
  const auto player = playing(unit, test::flat_disc());
  const double from_s = quiet_s(player);
  const double turn_s = player.loaded_disc()->spiral().turn_s(*player.place_s_at(from_s));
  const double level_v = *player.true_level_v(from_s, from_s + turn_s);
  CHECK(level_v < 1.2 * (1 - 0.0325 * (1.5 * 1.5 + 0.5)) * 1.02);
  CHECK(test::ideal_level_v(player, from_s) == Approx(level_v).epsilon(asked));
  // The reading may last less than a turn: the measurand is the whole turn all the same.
  CHECK(*player.true_level_v(from_s, from_s + 1e-3) == Approx(level_v).epsilon(1e-4));
}

TEST_CASE("truth: data at 2x has the level of the same disc", "[player]") {
  auto disc = test::flat_disc();
  disc.contents = test::contents({.first_is_data = true});
  const auto player = playing(ideal_player({}), disc, 1);
  const double from_s = quiet_s(player);
  CHECK(test::ideal_level_v(player, from_s) == Approx(*player.true_level_v(from_s, from_s + 0.1)).epsilon(asked));
}

TEST_CASE("truth: a span over two settings is weighed by time", "[player]") {
  auto player = playing(ideal_player({}), test::flat_disc());
  const double from_s = quiet_s(player);
  const double before_v = *player.true_level_v(from_s, from_s + 1);
  player.turn_trimmer_clockwise(8, from_s + 1);
  const double after_v = *player.true_level_v(from_s + 1.001, from_s + 1.2);
  CHECK(after_v > before_v * 1.03);
  CHECK(*player.true_level_v(from_s + 0.8, from_s + 1.2) == Approx((before_v + after_v) / 2).epsilon(0.002));
}
