// SPDX-License-Identifier: Apache-2.0
// Truth: a track wound turn by turn, and the table of rotation by radius that follows from v = 2 pi f r: 1.3 m/s is
// 8.28 turns a second at 25 mm and 5.17 at 40 mm (ECMA-130 2nd ed. 11.3, 11.4).
#include "core/disc/detail/radius.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using namespace eyelevel::disc;

TEST_CASE("radius: place and speed come back from turns and time of a wound track", "[disc]") {
  const double pi = std::acos(-1.0);
  for (const double velocity : {1.2, 1.3, 1.4}) {
    double length_m = 0, radius_m = 25e-3;
    for (int turn = 0; radius_m < 57.9e-3; ++turn) {
      if (turn % 2500 == 0) {
        const double time_s = length_m / velocity, turns_per_s = velocity / (2 * pi * radius_m);
        CAPTURE(velocity, radius_m, time_s);
        const auto found = detail::on_spiral(turns_per_s, time_s);
        REQUIRE(found);
        CHECK(found->radius_m == Approx(radius_m).epsilon(1e-4));
        CHECK(found->velocity_m_per_s == Approx(velocity).epsilon(1e-4));
      }
      length_m += 2 * pi * (radius_m + 0.8e-6);
      radius_m += 1.6e-6;
    }
  }
}

TEST_CASE("radius: the beginning of the program at 1.3 m/s turns 8.28 times a second", "[disc]") {
  const auto found = detail::on_spiral(8.276, 0);
  REQUIRE(found);
  CHECK(found->radius_m == Approx(25e-3));
  CHECK(found->velocity_m_per_s == Approx(1.3).epsilon(1e-3));
}

TEST_CASE("radius: what is no place on a disc is not told", "[disc]") {
  CHECK_FALSE(detail::on_spiral(0, 100));
  CHECK_FALSE(detail::on_spiral(-5, 100));
  CHECK_FALSE(detail::on_spiral(20, 0));      // 3.1 m/s
  CHECK_FALSE(detail::on_spiral(8.3, 3000));  // would lie at 85 mm
  CHECK_FALSE(detail::on_spiral(std::nan(""), 10));
}
