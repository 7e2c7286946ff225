// SPDX-License-Identifier: Apache-2.0
#include "core/quantity/unit.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;

TEST_CASE("unit: both micro signs, both ohm signs and their plain letters are one unit", "[quantity]") {
  for (const char* text : {"us", "\u00B5s", "\u03BCs"}) {
    const auto found = quantity::unit_at(text);
    REQUIRE(found);
    CHECK(found->unit.factor == 1e-6);
    CHECK(found->unit.dimension == quantity::time);
  }
  for (const char* text : {"kΩ", "k\u2126", "kohm"}) {
    const auto found = quantity::unit_at(text);
    REQUIRE(found);
    CHECK(found->unit.factor == 1e3);
    CHECK(found->unit.dimension == quantity::resistance);
  }
}

TEST_CASE("unit: mV is a thousandth and MV a million volts", "[quantity]") {
  CHECK(quantity::unit_at("mV")->unit.factor == 1e-3);
  CHECK(quantity::unit_at("MV")->unit.factor == 1e6);
}

TEST_CASE("unit: min is a minute and no thousandth of anything", "[quantity]") {
  CHECK(quantity::unit_at("min")->unit.factor == 60);
  CHECK_FALSE(quantity::unit_at("kmin"));
  CHECK_FALSE(quantity::unit_at("m°C"));
}

TEST_CASE("unit: a prefix that stands alone belongs to the word for samples behind it", "[quantity]") {
  const auto found = quantity::unit_at("k points long");
  REQUIRE(found);
  CHECK(found->length == 8);
  CHECK(found->unit.factor == 1e3);
  CHECK(found->unit.dimension == quantity::samples);
  CHECK_FALSE(quantity::unit_at("k turns"));
}

TEST_CASE("unit: what is meant by a wrong one is offered", "[quantity]") {
  CHECK(quantity::meant_by("mv") == "mV or MV");
  CHECK(quantity::meant_by("seconds") == "s");
  CHECK(quantity::meant_by("m") == "min or ms");
  CHECK(quantity::meant_by("mSa/s") == "MSa/s");
  CHECK(quantity::meant_by("mhz") == "mHz or MHz");
  CHECK(quantity::meant_by("furlong").empty());
}

TEST_CASE("unit: the word ends at white space and at signs that separate", "[quantity]") {
  CHECK(quantity::word_at("Sa/s, then") == "Sa/s");
  CHECK(quantity::word_at("V)") == "V");
  CHECK(quantity::word_at("").empty());
}
