// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "core/base/random.hpp"
#include "core/quantity/text.hpp"

using namespace eyelevel;
using quantity::AnyQuantity;

TEST_CASE("print: what is not a number is said in words, without a unit", "[quantity]") {
  CHECK(quantity::print({std::nan(""), quantity::voltage}) == "not a number");
}

TEST_CASE("print: the prefix leaves one to three digits before the point", "[quantity]") {
  CHECK(quantity::print(AnyQuantity{1.2, quantity::voltage}) == "1.2 V");
  CHECK(quantity::print(AnyQuantity{0.005, quantity::voltage}) == "5 mV");
  CHECK(quantity::print(AnyQuantity{-0.005, quantity::voltage}) == "-5 mV");
  CHECK(quantity::print(AnyQuantity{500e-6, quantity::time}) == "500 µs");
  CHECK(quantity::print(AnyQuantity{20e6, quantity::sample_rate}) == "20 MSa/s");
  CHECK(quantity::print(AnyQuantity{600e3, quantity::samples}) == "600 kSa");
  CHECK(quantity::print(AnyQuantity{0.5, quantity::samples}) == "0.5 Sa");
  CHECK(quantity::print(AnyQuantity{12e-12, quantity::capacitance}) == "12 pF");
  CHECK(quantity::print(AnyQuantity{0, quantity::voltage}) == "0 V");
  CHECK(quantity::print(AnyQuantity{10, quantity::ratio}) == "10");
  CHECK(quantity::print(AnyQuantity{298.15, quantity::temperature}) == "298.15 K");
}

TEST_CASE("print: rounding does not leave 1000 of a prefix", "[quantity]") {
  CHECK(quantity::print(AnyQuantity{0.9999999, quantity::voltage}, 4) == "1 V");
  CHECK(quantity::print(AnyQuantity{999.96e-6, quantity::time}, 4) == "1 ms");
}

TEST_CASE("print: whole minutes and hours are printed as such, odd seconds as seconds", "[quantity]") {
  CHECK(quantity::print(AnyQuantity{600, quantity::time}) == "10 min");
  CHECK(quantity::print(AnyQuantity{7200, quantity::time}) == "2 h");
  CHECK(quantity::print(AnyQuantity{90, quantity::time}) == "90 s");
  CHECK(quantity::print(AnyQuantity{5000, quantity::time}) == "5000 s");
}

TEST_CASE("print: tolerances and spans as they are written", "[quantity]") {
  for (const char* text : {"1.2 V ± 10 %", "0 V ± 5 mV", "0.6 V to 2.6 V", "at least 20 MSa/s", "at most 200"}) {
    const auto parsed = quantity::parse_span(text);
    REQUIRE(parsed);
    std::string expected = text;
    if (expected.starts_with("0.6")) expected = "600 mV to 2.6 V";
    CHECK(quantity::print(*parsed) == expected);
  }
  CHECK(quantity::print(quantity::Tolerance{0.015, true, quantity::ratio}) == "± 1.5 %");
  CHECK(quantity::print(quantity::Tolerance{0.01, false, quantity::voltage}) == "± 10 mV");
  CHECK(quantity::print_percent(0.125) == "12.5 %");
  CHECK(quantity::print(quantity::Span{}) == "any");
}

TEST_CASE("print: what is printed is read back as the same value to the digits printed", "[quantity]") {
  base::Random random(20260801, "print");
  const std::vector<quantity::Dimension> dimensions{quantity::voltage,    quantity::time,    quantity::sample_rate,
                                                    quantity::resistance, quantity::current, quantity::angle,
                                                    quantity::frequency,  quantity::ratio,   quantity::temperature};
  constexpr int digits = 6;
  // Half a unit in the last of six digits, relative to a mantissa of at least 1, plus double rounding.
  constexpr double tolerance = 0.5e-5 * 1.001;
  for (int i = 0; i < 2000; ++i) {
    const auto dimension = dimensions[random.below(dimensions.size())];
    const double value = std::pow(10, random.uniform(-11, 11)) * (random.chance(0.5) ? 1 : -1);
    const std::string text = quantity::print(AnyQuantity{value, dimension}, digits);
    const auto back = quantity::parse_quantity(text, dimension);
    INFO(text << " from " << value);
    REQUIRE(back);
    CHECK(std::abs(*back - value) <= tolerance * std::abs(value));
  }
}
