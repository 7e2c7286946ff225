// SPDX-License-Identifier: Apache-2.0
#include "core/quantity/dimension.hpp"

#include <catch2/catch.hpp>

#include "core/quantity/quantity.hpp"

using namespace eyelevel;

TEST_CASE("dimension: derived ones follow from their definition, by the compiler", "[quantity]") {
  STATIC_REQUIRE(quantity::resistance == quantity::Dimension{.volt = 1, .ampere = -1});
  STATIC_REQUIRE(quantity::resistance * quantity::conductance == quantity::ratio);
  STATIC_REQUIRE(quantity::resistance * quantity::capacitance == quantity::time);
  STATIC_REQUIRE(quantity::sample_rate * quantity::time == quantity::samples);
  STATIC_REQUIRE_FALSE(quantity::sample_rate == quantity::frequency);
}

TEST_CASE("dimension: a quantity computed from others has the dimension of the result", "[quantity]") {
  constexpr quantity::Ohms source(1000);
  constexpr quantity::Farads probe(12e-12);
  constexpr quantity::Seconds pole = source * probe;
  STATIC_REQUIRE(pole > quantity::Seconds(11.9e-9));
  STATIC_REQUIRE(pole < quantity::Seconds(12.1e-9));
  constexpr quantity::Samples count = quantity::SampleRate(20e6) * quantity::Seconds(30e-3);
  STATIC_REQUIRE(count == quantity::Samples(600e3));
}

TEST_CASE("dimension: each has a name, an article, an example and a unit", "[quantity]") {
  CHECK(quantity::name_of(quantity::voltage) == "voltage");
  CHECK(quantity::with_article(quantity::angle) == "an angle");
  CHECK(quantity::with_article(quantity::time) == "a time");
  CHECK(quantity::example_of(quantity::sample_rate) == "20 MSa/s");
  CHECK(quantity::unit_of(quantity::resistance) == "Ω");
  CHECK(quantity::unit_of(quantity::ratio).empty());
}

TEST_CASE("dimension: a combination without a name is written out", "[quantity]") {
  CHECK(quantity::unit_of(quantity::voltage * quantity::time) == "V s");
  CHECK(quantity::unit_of(quantity::voltage / (quantity::time * quantity::time)) == "V s^-2");
  CHECK(quantity::name_of(quantity::voltage * quantity::time) == "quantity in V s");
}
