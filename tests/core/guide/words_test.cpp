// SPDX-License-Identifier: Apache-2.0
#include "core/guide/words.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::guide;

TEST_CASE("words: a turn is told as its way, its degrees and a share of a turn") {
  CHECK(turn_in_words(-18) == "anticlockwise by 18 degrees, about a twentieth of a turn");
  CHECK(turn_in_words(90) == "clockwise by 90 degrees, about a quarter of a turn");
}

TEST_CASE("words: the nearest share that a person can picture") {
  CHECK(share_of_a_turn(-17) == "about a twentieth of a turn");
  CHECK(share_of_a_turn(35) == "about a tenth of a turn");
  CHECK(share_of_a_turn(2) == "about a hair, a third of a minute on a clock face");
  CHECK(share_of_a_turn(0) == share_of_a_turn(2));
}
