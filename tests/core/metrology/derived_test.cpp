// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/derived.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "core/metrology/combine.hpp"

using namespace eyelevel;
using metrology::Contribution;
using metrology::Reading;
using metrology::Shape;

namespace {

// A level with 2 % of gain (one scope) and 10 mV of its own captures.
Reading level(const std::string& name, double value_v) {
  Reading reading;
  reading.name = name;
  reading.value = value_v;
  reading.unit = "V";
  reading.count = 16;
  reading.contributions = {{"gain of scope", 'B', Shape::rectangular, 0.02 * value_v},
                           {"captures of " + name, 'A', Shape::normal, 0.01, 15}};
  reading.interval = metrology::combine(reading.contributions);
  reading.from_s = value_v;
  reading.until_s = value_v + 1;
  return reading;
}

}  // namespace

TEST_CASE("difference of readings: a common gain acts on the difference only", "[metrology]") {
  const auto d = metrology::difference_of(level("pressed", 1.2), level("recordable", 0.8));
  CHECK(d.value == Approx(0.4));
  CHECK(d.unit == "V");
  CHECK(d.measure == "difference of");
  CHECK(d.inputs == std::vector<std::string>{"pressed", "recordable"});
  CHECK(d.count == 32);
  CHECK(d.from_s == 0.8);
  CHECK(d.until_s == 2.2);
  CHECK(d.interval.standard_uncertainty == Approx(std::sqrt(0.008 * 0.008 + 2e-4)).epsilon(1e-9));
  const auto same = metrology::difference_of(level("a", 1.2), level("a", 1.2));
  CHECK(same.interval.expanded_uncertainty == 0);  // one reading against itself
}

TEST_CASE("ratio of readings: a common gain cancels, own errors stay", "[metrology]") {
  const auto r = metrology::ratio_of(level("pressed", 1.2), level("recordable", 0.8));
  CHECK(r.value == Approx(1.5));
  CHECK(r.unit == "1");
  // u^2 = (0.01/0.8)^2 + (1.2 * 0.01/0.8^2)^2 by hand.
  CHECK(r.interval.standard_uncertainty == Approx(std::hypot(0.0125, 0.01875)).epsilon(1e-9));
  Reading current = level("current", 0.05);
  current.unit = "A";
  CHECK(metrology::ratio_of(level("pressed", 1.2), current).unit == "V/A");
  CHECK_THROWS_WITH(metrology::ratio_of(level("a", 1), level("dark", 0)), Catch::Contains("\"dark\", which is 0"));
}

TEST_CASE("product of readings: relative uncertainties add, a common gain twice", "[metrology]") {
  const auto p = metrology::product_of(level("pressed", 1.2), level("recordable", 0.8));
  CHECK(p.value == Approx(0.96));
  CHECK(p.unit == "V V");
  // GUM 5.1.6 with the common gain's sensitivities added (GUM 5.2).
  CHECK(p.interval.standard_uncertainty ==
        Approx(0.96 * std::sqrt(0.04 * 0.04 + std::pow(0.01 / 1.2, 2) + std::pow(0.01 / 0.8, 2))).epsilon(1e-9));
  Reading factor;
  factor.value = 2;
  factor.unit = "1";
  CHECK(metrology::product_of(level("pressed", 1.2), factor).unit == "V");
  CHECK(metrology::product_of(factor, level("pressed", 1.2)).unit == "V");
}

TEST_CASE("mean and sum of readings: a common gain stays whole, own errors average", "[metrology]") {
  const std::vector<Reading> four{level("a", 1.0), level("b", 1.0), level("c", 1.0), level("d", 1.0)};
  const auto mean = metrology::mean_of(four);
  CHECK(mean.value == Approx(1));
  CHECK(mean.interval.standard_uncertainty == Approx(std::hypot(0.02, 0.005)).epsilon(1e-9));
  CHECK(mean.contributions.size() == 5);
  CHECK(mean.count == 64);
  const auto sum = metrology::sum_of(four[0], four[1]);
  CHECK(sum.value == 2);
  CHECK(sum.interval.standard_uncertainty == Approx(std::sqrt(0.04 * 0.04 + 2e-4)).epsilon(1e-9));
  CHECK(metrology::correlation_of(four[0], four[1]) == Approx(4e-4 / (4e-4 + 1e-4)));
  CHECK(metrology::correlation_of(four[0], Reading{}) == 0);
}

TEST_CASE("largest and smallest of readings: the reading itself, with its own uncertainty", "[metrology]") {
  std::vector<Reading> three{level("a", 1.0), level("b", 1.3), level("c", 0.9)};
  three[1].judgement = metrology::Judgement::pass;
  three[1].limit = metrology::Limit{1.0, 2.0};
  const auto largest = metrology::largest_of(three);
  CHECK(largest.value == 1.3);
  CHECK(largest.interval.standard_uncertainty == three[1].interval.standard_uncertainty);
  CHECK_FALSE(largest.judgement);
  CHECK_FALSE(largest.limit);
  CHECK(largest.inputs == std::vector<std::string>{"a", "b", "c"});
  CHECK(largest.notes == std::vector<std::string>{"it is b"});
  CHECK(metrology::smallest_of(three).value == 0.9);
}

TEST_CASE("derived readings: how many observations were tried is carried on", "[metrology]") {
  Reading a = level("a", 1);
  a.tried = 20;
  CHECK(metrology::difference_of(a, level("b", 1)).tried == 36);
  CHECK_FALSE(metrology::difference_of(level("a", 1), level("b", 1)).tried.has_value());
}

TEST_CASE("derived readings: units that differ, no readings and NaN are refused", "[metrology]") {
  Reading current = level("current", 0.05);
  current.unit = "A";
  CHECK_THROWS_WITH(metrology::difference_of(level("a", 1), current),
                    Catch::Contains("\"a\" is in V, \"current\" in A"));
  CHECK_THROWS_AS(metrology::mean_of({}), base::Error);
  CHECK_THROWS_AS(metrology::largest_of({}), base::Error);
  Reading strange = level("x", 1);
  strange.value = std::numeric_limits<double>::quiet_NaN();
  CHECK_THROWS_WITH(metrology::sum_of(strange, level("a", 1)), Catch::Contains("\"x\" has the value nan"));
  CHECK_THROWS_AS(metrology::largest_of(std::vector{strange}), base::Error);
}
