// SPDX-License-Identifier: Apache-2.0
// Failure figures are the design values: too little light per try 0.95, 0.66, 0.17, 0.02 at x 0.2 to 0.5; too much per
// load 0.003, 0.015, 0.076, 0.30, 0.92 at x 1.0 to 1.5; tolerance is the last digit.
#include "sim/player/servo.hpp"

#include <array>
#include <catch2/catch.hpp>

using namespace eyelevel;
using namespace eyelevel::sim;

TEST_CASE("servo: failure with too little and too much light follows the design table", "[player]") {
  struct Row {
    double light, probability, margin;
  };
  constexpr std::array<Row, 4> dim{{{0.2, 0.95, 0.005}, {0.3, 0.66, 0.005}, {0.4, 0.17, 0.005}, {0.5, 0.02, 0.005}}};
  for (const Row& row : dim)
    CHECK(focus_failure_per_try(row.light, false) == Approx(row.probability).margin(row.margin));
  CHECK(focus_failure_per_try(0.12, true) == Approx(0.5).margin(1e-12));
  constexpr std::array<Row, 5> bright{
      {{1.0, 0.003, 0.0005}, {1.1, 0.015, 0.0005}, {1.2, 0.076, 0.0005}, {1.3, 0.30, 0.005}, {1.5, 0.92, 0.005}}};
  for (const Row& row : bright) CHECK(load_failure(row.light) == Approx(row.probability).margin(row.margin));
}

TEST_CASE("servo: at setting 1.4 a recordable disc plays while pressed discs fail; rewritables fail first in dim light",
          "[player]") {
  constexpr double recordable = 0.73, rewritable = 0.25;  // light of the kinds, design values
  CHECK(load_failure(1.4 * recordable) < 0.01);
  CHECK(load_failure(1.4) > 0.5);
  CHECK(focus_failure_per_try(rewritable, false) > focus_failure_per_try(recordable, false));
}

TEST_CASE("servo: skips a minute are thirty times the probability of failure", "[player]") {
  CHECK(skips_per_min(1.2, false) == Approx(30 * load_failure(1.2)).margin(1e-6));
  CHECK(skips_per_min(0.9, false) < 0.05);
  CHECK(skips_per_min(3, false) == Approx(30).margin(1e-6));
}

TEST_CASE("servo: one cycle through the contents of 12 tracks takes 0.60 s", "[player]") {
  CHECK(contents_cycle_s(12) == Approx(0.60).margin(1e-12));
}

TEST_CASE("servo: drawn times lie where the design table puts them", "[player]") {
  base::Random chance(7, "servo");
  int fast = 0, slow = 0;
  constexpr int draws = 2000;
  for (int i = 0; i < draws; ++i) {
    const auto times = draw_servo_times(chance);
    fast += times.seek_s < 0.3 ? 1 : 0;
    slow += times.seek_s > 2.0 ? 1 : 0;
    REQUIRE(times.wake_s > 0);
    REQUIRE(times.contents_extra_s > 0);
  }
  // 5 % lie outside on each side; binomial standard deviation 0.5 %, four of them allowed.
  CHECK(static_cast<double>(fast) / draws == Approx(0.05).margin(0.02));
  CHECK(static_cast<double>(slow) / draws == Approx(0.05).margin(0.02));
}

TEST_CASE("servo: every state has its own name", "[player]") {
  CHECK(name_of(PlayerState::off) == "off");
  CHECK(name_of(PlayerState::playing) == "playing");
  CHECK(name_of(PlayerState::paused) == "paused");
}
