// SPDX-License-Identifier: Apache-2.0
// Truth: 4.3218 Mbit/s at 1x (ECMA-130 21), frames of 588 bits (19.4), blocks of 98 frames (18).
#include "core/disc/detail/capture_advice.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::disc;

namespace {

constexpr double rate_hz = 20e6;

detail::SpeedFound at_ratio(double ratio) { return detail::speed_of(ratio * detail::channel_rate_1x_hz, rate_hz); }

}  // namespace

TEST_CASE("capture advice: a clock within 5 % of a speed of discs is that speed, without a word", "[disc]") {
  for (const double speed : {1.0, 2.0, 4.0, 8.0}) {
    for (const double off : {0.95, 1.0, 1.05}) {
      CAPTURE(speed, off);
      const auto found = at_ratio(speed * off);
      CHECK(found.speed == speed);
      CHECK(found.warning.empty());
    }
  }
}

TEST_CASE("capture advice: a clock 6 to 15 % off is that speed, and the rate at which it would fit is named",
          "[disc]") {
  // 20 MSa/s over 0.88 and over 1.1.
  const auto slow = at_ratio(0.88);
  CHECK(slow.speed == 1);
  CHECK_THAT(slow.warning, Catch::Contains("12.0 % below that of 1x") && Catch::Contains("With 22.7273 MSa/s"));
  CHECK_THAT(at_ratio(1.1).warning,
             Catch::Contains("10.0 % above that of 1x") && Catch::Contains("With 18.1818 MSa/s"));
}

TEST_CASE("capture advice: a clock of no disc speed names the nearest rate that would make it one", "[disc]") {
  const auto half = at_ratio(0.5);
  CHECK(half.speed == 0.5);
  CHECK_THAT(half.warning, Catch::Contains("0.5 times that of 1x: none of the usual speeds") &&
                               Catch::Contains("With 40 MSa/s it would be 1x"));
  const auto between = at_ratio(1.5);
  CHECK(between.speed == 1.5);
  CHECK_THAT(between.warning, Catch::Contains("With 26.6667 MSa/s it would be 2x, with 13.3333 MSa/s 1x"));
  CHECK_THAT(at_ratio(1000).warning, Catch::Contains("With 1.28 MSa/s it would be 64x, with 20 kSa/s 1x"));
}

TEST_CASE("capture advice: too low a rate says which rate would do", "[disc]") {
  // 1.8 samples in each of 4321800 channel bits a second are 7.77924 MSa/s.
  CHECK_THAT(detail::too_low_a_rate(44100), Catch::Contains("44.1 kSa/s is too low") && Catch::Contains("7.8 MSa/s"));
  CHECK_FALSE(detail::too_low_a_rate(7.779e6).empty());
  CHECK(detail::too_low_a_rate(7.78e6).empty());
}

TEST_CASE("capture advice: too short a record says how long would do", "[disc]") {
  // Three frames are 0.40816 ms, two blocks 26.667 ms.
  CHECK_THAT(detail::too_short_a_record(1000, rate_hz), Catch::Contains("the record of 0.05 ms") &&
                                                            Catch::Contains("0.408 ms (8164 samples)") &&
                                                            Catch::Contains("26.7 ms (533334 samples)"));
  CHECK_FALSE(detail::too_short_a_record(8163, rate_hz).empty());
  CHECK(detail::too_short_a_record(8164, rate_hz).empty());
  CHECK(detail::surely_a_block_s(detail::channel_rate_1x_hz) == Approx(2 * 98 * 588 / 4321800.0));
}
