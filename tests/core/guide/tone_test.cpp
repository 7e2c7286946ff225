// SPDX-License-Identifier: Apache-2.0
#include "core/guide/tone.hpp"

#include <catch2/catch.hpp>

#include <limits>

using eyelevel::guide::tone_of;

TEST_CASE("tone: no information is silence") {
  CHECK(tone_of(std::nullopt).is_silent);
  CHECK(tone_of(std::numeric_limits<double>::quiet_NaN()).is_silent);
  CHECK(tone_of(std::numeric_limits<double>::infinity()).is_silent);
}

TEST_CASE("tone: right is one soft steady tick, wherever between the limits") {
  const auto middle = tone_of(0), edge = tone_of(-1);
  CHECK_FALSE(middle.is_silent);
  CHECK(middle.pitch_hz == edge.pitch_hz);
  CHECK(middle.beats_per_s == edge.beats_per_s);
  CHECK(middle.loudness < tone_of(1.01).loudness);
}

TEST_CASE("tone: too high sounds higher than right, too low lower, both beat faster with the distance") {
  CHECK(tone_of(2).pitch_hz > tone_of(0).pitch_hz);
  CHECK(tone_of(-2).pitch_hz < tone_of(0).pitch_hz);
  CHECK(tone_of(1.5).beats_per_s > tone_of(0).beats_per_s);
  CHECK(tone_of(3).beats_per_s > tone_of(2).beats_per_s);
  CHECK(tone_of(-3).beats_per_s == tone_of(3).beats_per_s);
}

TEST_CASE("tone: far off it stays within an octave and ten beats") {
  CHECK(tone_of(100).pitch_hz == Approx(1320));
  CHECK(tone_of(-100).pitch_hz == Approx(330));
  CHECK(tone_of(100).beats_per_s == Approx(10));
}
