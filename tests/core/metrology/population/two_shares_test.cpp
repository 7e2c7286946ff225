// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/population/two_shares.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::metrology::population;

// R. A. Fisher, The Design of Experiments, 1935, chapter II: of eight cups the four with milk first are told, three of
// them rightly. Tables with the same margins: 1, 16, 36, 16, 1 of 70; as unlikely or less: 34 of 70.
TEST_CASE("two shares: the lady who tastes tea", "[metrology]") {
  CHECK(chance_of_difference({3, 4}, {1, 4}) == Approx(34.0 / 70));
  CHECK(chance_of_difference({4, 4}, {0, 4}) == Approx(2.0 / 70));
}

// By hand: margins 8 and 5 trials, 7 successes of 13; of the 1716 tables those with x = 2..7 number 28, 280, 700, 560,
// 140, 8; as unlikely as x = 6 or less: 140 + 28 + 8.
TEST_CASE("two shares: both sides count, and tables of the same probability", "[metrology]") {
  CHECK(chance_of_difference({6, 8}, {1, 5}) == Approx(176.0 / 1716));
  CHECK(chance_of_difference({1, 5}, {6, 8}) == Approx(176.0 / 1716));
}

TEST_CASE("two shares: what has no trials, or is alike, does not differ", "[metrology]") {
  CHECK(chance_of_difference({0, 0}, {5, 9}) == 1);
  CHECK(chance_of_difference({5, 10}, {5, 10}) == Approx(1));
  CHECK(chance_of_difference({10, 10}, {20, 20}) == Approx(1));
}

TEST_CASE("two shares: of many the approximation goes on where the exact count ends", "[metrology]") {
  const double exact = chance_of_difference({4'900, 9'900}, {5'100, 10'000});
  const double approximate = chance_of_difference({4'975, 10'051}, {5'100, 10'000});
  CHECK(exact == Approx(0.0346).epsilon(0.01));  // by whole numbers of any length
  CHECK(approximate == Approx(0.0334).epsilon(0.01));
}
