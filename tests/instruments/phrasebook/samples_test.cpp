// SPDX-License-Identifier: Apache-2.0
// Byte patterns of IEEE 754 binary32, least significant byte first, written out by hand.
#include "instruments/phrasebook/samples.hpp"

#include <catch2/catch.hpp>

#include <string>

using namespace eyelevel;
using namespace std::string_literals;

TEST_CASE("samples: four bytes, least significant first, are one value", "[phrasebook]") {
  std::vector<float> volts;
  CHECK_FALSE(phrasebook::floats_from("\x00\x00\x80\x3F\x00\x00\x20\xC0\x00\x00\x00\x00"s, volts));
  CHECK(volts == std::vector<float>{1.0F, -2.5F, 0.0F});
}

TEST_CASE("samples: none are none", "[phrasebook]") {
  std::vector<float> volts{1.0F};
  CHECK_FALSE(phrasebook::floats_from("", volts));
  CHECK(volts.empty());
}

TEST_CASE("samples: the first that is no voltage is told", "[phrasebook]") {
  const std::string one = "\x00\x00\x80\x3F"s;
  // Quiet NaN, infinity, and SCPI's numbers for infinity (9.9E37) and not a number (9.91E37) as binary32.
  for (const std::string& bad : {"\x00\x00\xC0\x7F"s, "\x00\x00\x80\x7F"s, "\x7F\xF5\x94\x7E"s, "\x9E\x1C\x95\x7E"s}) {
    std::vector<float> volts;
    CHECK(phrasebook::floats_from(one + one + bad + bad, volts) == 2U);
    CHECK(volts.size() == 4);
  }
}

TEST_CASE("samples: the memory of the vector is used again", "[phrasebook]") {
  std::vector<float> volts(1000);
  const float* before = volts.data();
  CHECK_FALSE(phrasebook::floats_from(std::string(400, '\0'), volts));
  CHECK(volts.data() == before);
  CHECK(volts.size() == 100);
}
