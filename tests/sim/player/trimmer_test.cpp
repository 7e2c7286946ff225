// SPDX-License-Identifier: Apache-2.0
// Steepness of a 10 kOhm, 240 degree trimmer with 1 kOhm in series (light as 1/(Rf + R)): 1.19, 0.69, 0.49 % per degree
// at 60, 120, 180 degrees; exact for the model, tolerance is the last digit.
#include "sim/player/trimmer.hpp"

#include <array>
#include <catch2/catch.hpp>
#include <cmath>

using namespace eyelevel;
using namespace eyelevel::sim;

namespace {

Trimmer at(double wiper_deg, TrimmerTraits traits = {}) { return {traits, wiper_deg, base::Random(1, "trimmer")}; }

}  // namespace

TEST_CASE("trimmer: steepness over the track is curved as 1/(Rf + R)", "[player]") {
  struct Row {
    double wiper_deg, percent_per_deg;
  };
  constexpr std::array<Row, 3> table{{{60, 1.19}, {120, 0.69}, {180, 0.49}}};
  for (const Row& row : table) {
    CHECK(100 * at(row.wiper_deg).steepness_per_deg() == Approx(row.percent_per_deg).margin(0.005));
    // The same from the light itself, half a degree to both sides.
    const double raised = std::log(at(row.wiper_deg - 0.5).setting() / at(row.wiper_deg + 0.5).setting());
    CHECK(100 * raised == Approx(row.percent_per_deg).margin(0.006));
  }
  CHECK(at(120).setting() == 1);
}

TEST_CASE("trimmer: either sense, a clockwise turn raises or lowers the light as the model says", "[player]") {
  TrimmerTraits traits;
  auto raising = at(120, traits);
  raising.turn_clockwise(10);
  CHECK(raising.wiper_deg() == 110);
  CHECK(raising.setting() > 1);
  traits.clockwise_raises = false;
  auto lowering = at(120, traits);
  lowering.turn_clockwise(10);
  CHECK(lowering.wiper_deg() == 130);
  CHECK(lowering.setting() < 1);
}

TEST_CASE("trimmer: backlash, turning back moves nothing until the play is used up", "[player]") {
  TrimmerTraits traits;
  traits.backlash_deg = 4;
  auto trimmer = at(120, traits);
  trimmer.turn_clockwise(10);
  CHECK(trimmer.wiper_deg() == Approx(112));  // half the play was there at first
  trimmer.turn_clockwise(-4);
  CHECK(trimmer.wiper_deg() == Approx(112));
  trimmer.turn_clockwise(-3);
  CHECK(trimmer.wiper_deg() == Approx(115));
}

TEST_CASE("trimmer: end stops hold the screw and the dead ends keep the resistance", "[player]") {
  TrimmerTraits traits;
  traits.dead_end_deg = 15;
  auto trimmer = at(20, traits);
  trimmer.turn_clockwise(500);
  CHECK(trimmer.screw_deg() == 0);
  CHECK(trimmer.resistance_ohm() == Approx(1000 + 10e3 * 15 / 240));
  CHECK(trimmer.steepness_per_deg() == 0);
  trimmer.turn_clockwise(-10);
  CHECK(trimmer.resistance_ohm() == Approx(1000 + 10e3 * 15 / 240));
  trimmer.turn_clockwise(-500);
  CHECK(trimmer.screw_deg() == 240);
  trimmer.turn_clockwise(std::nan(""));
  CHECK(trimmer.screw_deg() == 240);
}

TEST_CASE("trimmer: spring-back, the screw returns a little after a turn", "[player]") {
  TrimmerTraits traits;
  traits.spring_back_deg = 1;
  auto trimmer = at(120, traits);
  trimmer.turn_clockwise(-10);
  CHECK(trimmer.screw_deg() == Approx(129));
}

TEST_CASE("trimmer: a noisy wiper lands anew after a turn and stays while it is not touched", "[player]") {
  TrimmerTraits traits;
  traits.contact_noise = 0.01;
  auto trimmer = at(120, traits);
  double sum_square = 0;
  constexpr int turns = 400;
  for (int i = 0; i < turns; ++i) {
    trimmer.turn_clockwise(i % 2 == 0 ? 3 : -3);
    const double clean = trimmer.resistance_at_ohm(trimmer.wiper_deg()) - traits.fixed_ohm;
    const double error = (trimmer.resistance_ohm() - traits.fixed_ohm) / clean - 1;
    CHECK(trimmer.resistance_ohm() == trimmer.resistance_ohm());
    sum_square += error * error;
  }
  // Standard deviation of 400 draws is known to 3.5 % (one sigma); four of them are allowed.
  CHECK(std::sqrt(sum_square / turns) == Approx(0.01).epsilon(0.14));
}

TEST_CASE("trimmer: the angle for a setting gives that setting", "[player]") {
  for (const double setting : {0.7, 0.9, 1.0, 1.3}) {
    const double angle_deg = at(120).angle_for(setting);
    CHECK(at(angle_deg).setting() == Approx(setting).epsilon(1e-12));
  }
}

TEST_CASE("trimmer: where the wiper has no contact nothing is asked of the laser", "[player]") {
  TrimmerTraits traits;
  traits.open_from_deg = 110;
  traits.open_until_deg = 130;
  CHECK(at(120, traits).setting() == 0);
  CHECK(at(109, traits).setting() > 0);
  CHECK(at(131, traits).setting() > 0);
}
