// SPDX-License-Identifier: Apache-2.0
// The reference laser of the design figures: threshold 35 mA, slope 0.25 mW/mA, T0 140 K, T1 400 K, 2.5 mW, hence 45.0
// mA at 25 degrees. Its table follows from P = eta (I - Ith) alone; tolerances are the last digit of the table.
#include "sim/player/laser.hpp"

#include <array>
#include <catch2/catch.hpp>

using namespace eyelevel::sim;

namespace {

LaserDrive without_loop() {
  LaserDrive drive;
  drive.has_loop = false;
  return drive;
}

Laser worn(double factor) {
  Laser laser;
  laser.threshold_wear = factor;
  return laser;
}

}  // namespace

TEST_CASE("laser: reference laser over temperature, current with the loop and light without it follow the law",
          "[player]") {
  struct Row {
    double temperature_c, current_ma, light_change;
  };
  constexpr std::array<Row, 5> table{
      {{0, 38.7, 0.67}, {15, 42.3, 0.27}, {25, 45.0, 0}, {35, 47.8, -0.28}, {45, 50.9, -0.56}}};
  const LaserDrive loop;
  for (const Row& row : table) {
    const auto held = operating_point(Laser{}, loop, 1, row.temperature_c);
    CHECK(held.current_ma == Approx(row.current_ma).margin(0.05));
    CHECK(held.light_mw == Approx(2.5).margin(1e-12));
    const auto free = operating_point(Laser{}, without_loop(), 1, row.temperature_c);
    CHECK(free.light_mw / 2.5 - 1 == Approx(row.light_change).margin(0.005));
  }
}

TEST_CASE("laser: at 35 degrees the loop needs 47.84 mA and without it 0.723 of the light is left", "[player]") {
  CHECK(operating_point(Laser{}, LaserDrive{}, 1, 35).current_ma == Approx(47.84).margin(0.01));
  CHECK(operating_point(Laser{}, without_loop(), 1, 35).light_mw / 2.5 == Approx(0.723).margin(0.001));
}

TEST_CASE("laser: worn threshold raises the current with the loop and dims the light without it", "[player]") {
  struct Row {
    double threshold, current_ma, light_change;
  };
  constexpr std::array<Row, 4> table{{{1.05, 46.8, -0.18}, {1.10, 48.5, -0.35}, {1.20, 52.0, -0.70}, {1.50, 62.5, -1}}};
  for (const Row& row : table) {
    CHECK(operating_point(worn(row.threshold), LaserDrive{}, 1, 25).current_ma == Approx(row.current_ma).margin(0.051));
    const double left = operating_point(worn(row.threshold), without_loop(), 1, 25).light_mw / 2.5;
    CHECK(left - 1 == Approx(row.light_change).margin(0.0051));
  }
  // Without the loop it is dark when the threshold has risen to the set current: 45/35 = +28.6 %.
  CHECK(operating_point(worn(1.285), without_loop(), 1, 25).light_mw > 0);
  CHECK(operating_point(worn(1.286), without_loop(), 1, 25).light_mw == 0);
}

TEST_CASE(
    "laser: the loop holds the level until the driver's limit, then the level sags and no longer follows the trimmer",
    "[player]") {
  LaserDrive drive;
  drive.current_limit_ma = 60;
  const auto below = operating_point(worn(1.3), drive, 1, 25);
  CHECK_FALSE(below.at_limit);
  CHECK(below.light_mw == Approx(2.5).margin(1e-12));
  CHECK(below.monitor_ma == Approx(0.25).margin(1e-12));
  const auto beyond = operating_point(worn(1.5), drive, 1, 25);
  CHECK(beyond.at_limit);
  CHECK(beyond.current_ma == 60);
  CHECK(beyond.light_mw == Approx(0.25 * (60 - 52.5)).margin(1e-12));
  CHECK(operating_point(worn(1.5), drive, 1.2, 25).light_mw == beyond.light_mw);
}

TEST_CASE(
    "laser: with the loop light follows the setting, without it the current does and light moves 4.5 times as much",
    "[player]") {
  CHECK(operating_point(Laser{}, LaserDrive{}, 1.1, 25).light_mw == Approx(2.75).margin(1e-12));
  // d ln P / d ln I = I/(I - Ith) = 45/10.
  const double small = 1e-6;
  const double moved = operating_point(Laser{}, without_loop(), 1 + small, 25).light_mw / 2.5 - 1;
  CHECK(moved / small == Approx(4.5).margin(1e-4));
  // Over-driving hardly shows in the current: +10 % light costs 1/45 more current.
  CHECK(operating_point(Laser{}, LaserDrive{}, 1.1, 25).current_ma / 45 - 1 == Approx(0.1 / 4.5).margin(1e-12));
}

TEST_CASE("laser: two points of light and current give the threshold", "[player]") {
  CHECK(threshold_from_two_points_ma({45, 1.00}, {42.5, 0.75}) == Approx(35.0).margin(1e-12));
}

TEST_CASE("laser: ageing at 0.5 eV is 1.88 times as fast at 35 degrees and 3.40 times at 45", "[player]") {
  CHECK(ageing_acceleration(0.5, {25, 35}) == Approx(1.88).margin(0.01));
  CHECK(ageing_acceleration(0.5, {25, 45}) == Approx(3.40).margin(0.01));
  CHECK(ageing_acceleration(0.5, {25, 25}) == 1);
}
