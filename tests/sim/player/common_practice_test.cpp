// SPDX-License-Identifier: Apache-2.0
// Common practice, no source: what was seen at one model's RF pad, at 0.125 V a division. The figures were read by eye,
// each with a standard uncertainty of 0.20 division (0.025 V). One simulated player with these values must show all of
// them.
#include <catch2/catch.hpp>

#include "sim/player/pad_signal.hpp"
#include "sim/player/player.hpp"
#include "tests/sim/player/discs.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;

namespace {

constexpr double division_v = 0.125;
constexpr double eye_reading_v = 0.20 * division_v;
constexpr double modulation = 0.66;  // I11/Itop of both discs
constexpr double recordable_light = 0.729;

PlayerParameters practice_player() {
  ModelTraits model;
  model.model = "practice";
  model.nominal_level_v = 0.56;
  model.nominal_modulation = modulation;
  model.reference_v = 2.5;
  model.saturation_v = 1.9;
  auto unit = ideal_player(model);
  unit.dark_offset_v = 0.016;
  return unit;
}

std::shared_ptr<const Disc> practice_disc(DiscKind kind) {
  static const auto contents = test::contents();
  auto made = test::flat_disc(kind);
  made.contents = contents;
  made.modulation = modulation;
  if (kind == DiscKind::recordable) made.light = recordable_light;
  return test::shared(made);
}

}  // namespace

TEST_CASE("common practice: one player meets every figure at once, and ECMA's limits", "[player]") {
  Player player(practice_player());
  PadSignal pad(player);
  constexpr Load meter{10e6, 100e-12};
  player.switch_on(0);
  const double no_disc_v = pad.mean_v(10, 11, meter);
  CHECK(no_disc_v == Approx(2.516).margin(0.001));

  player.insert(practice_disc(DiscKind::pressed), 20);
  player.start_track(2, 21);
  REQUIRE(player.state_at(50) == PlayerState::playing);
  const double pressed_v = *player.true_level_v(50, 51);
  CHECK(pressed_v == Approx(4.5 * division_v).margin(eye_reading_v));
  const double pressed_rise_v = pad.mean_v(50, 51, meter) - no_disc_v;
  CHECK(pressed_rise_v > 0.55 - eye_reading_v);
  CHECK(pressed_rise_v < 0.56 + eye_reading_v);

  const auto eye = player.loaded_disc()->eye(*player.place_s_at(50), player.laser_light_at(50));
  const double i11_over_top = (eye.land - eye.pit) / eye.land;
  CHECK(i11_over_top > 0.62);
  CHECK(i11_over_top < 0.69);
  CHECK(i11_over_top >= 0.6);  // ECMA-130 2nd ed. 12.2
  CHECK(eye.i3_over_i11 * i11_over_top > 0.3);
  CHECK(eye.i3_over_i11 * i11_over_top < 0.7);
  // Rise over peak to peak = 1/m - 1/2 - asymmetry, here without asymmetry.
  CHECK(pressed_rise_v / pressed_v == Approx(1 / i11_over_top - 0.5).margin(0.005));

  player.insert(practice_disc(DiscKind::recordable), 60);
  player.start_track(2, 61);
  REQUIRE(player.state_at(90) == PlayerState::playing);
  const double recordable_v = *player.true_level_v(90, 91);
  CHECK(recordable_v > 3.0 * division_v - eye_reading_v);
  CHECK(recordable_v < 3.5 * division_v + eye_reading_v);
  const double playing_v = pad.mean_v(90, 91, meter);
  // A digital meter's figures: each within an eye reading, and nearer.
  CHECK(playing_v == Approx(2.9305).margin(eye_reading_v));
  CHECK(playing_v == Approx(2.9305).margin(0.003));
  CHECK(playing_v - no_disc_v == Approx(0.4145).margin(0.003));
  CHECK(playing_v - no_disc_v == Approx(3.3 * division_v).margin(eye_reading_v));
}
