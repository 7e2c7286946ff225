// SPDX-License-Identifier: Apache-2.0
// ECMA-130 2nd ed. 11.3, 11.4, 8.6: track pitch 1.6 um, program from 25 to 58 mm. Rotation table and the number of
// turns follow from them; tolerances are their last digits.
#include "sim/player/spiral.hpp"

#include <array>
#include <catch2/catch.hpp>

using namespace eyelevel::sim;

TEST_CASE("spiral: the program area holds 68.9 minutes at 1.3 m/s on 20 625 turns", "[player]") {
  const Spiral spiral;
  const double end_s = spiral.place_of_turns_s(20625);
  CHECK(spiral.radius_m(end_s) == Approx(58e-3).margin(1e-9));
  CHECK(end_s / 60 == Approx(68.9).margin(0.05));
  CHECK(spiral.turns(end_s) == Approx(20625).margin(1e-6));
}

TEST_CASE("spiral: rotation at the radii of the table", "[player]") {
  struct Row {
    double radius_m, velocity_m_per_s, rpm;
  };
  constexpr std::array<Row, 6> table{{{25e-3, 1.2, 458},
                                      {25e-3, 1.3, 497},
                                      {25e-3, 1.4, 535},
                                      {40e-3, 1.3, 310},
                                      {58e-3, 1.3, 214},
                                      {23e-3, 1.3, 540}}};
  for (const Row& row : table) {
    Spiral spiral;
    spiral.velocity_m_per_s = row.velocity_m_per_s;
    const double place_s = spiral.place_of_turns_s((row.radius_m - 25e-3) / spiral.pitch_m);
    CHECK(60 * spiral.rotation_hz(place_s) == Approx(row.rpm).margin(0.5));
  }
  CHECK(Spiral{}.rotation_hz(0) == Approx(8.28).margin(0.005));
}

TEST_CASE("spiral: after the time of one turn the disc has turned once", "[player]") {
  const Spiral spiral;
  const double place_s = 600;
  // The radius grows by one pitch meanwhile, so a turn gets longer by 1.6 um in 32 mm.
  CHECK(spiral.turns(place_s + spiral.turn_s(place_s)) - spiral.turns(place_s) == Approx(1).margin(5e-5));
}
