// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/trend/theil_sen.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using metrology::trend::theil_sen;
using test::example;
using test::number;
using test::numbers;

TEST_CASE("Theil-Sen: slope, intercept and interval of the Norris data", "[metrology]") {
  // Data of NIST StRD (examples.json "theil_sen_norris"), computed digits to 1e-8.
  const auto computed = example("theil_sen_norris").at("computed");
  const auto data = test::table("nist/norris.csv");
  const auto got = theil_sen(data.at("x"), data.at("y"));
  CHECK(got.slope == Approx(number(computed.at("slope"))).epsilon(1e-8));
  CHECK(got.intercept == Approx(number(computed.at("intercept"))).epsilon(1e-8));
  CHECK(got.slope_range.low == Approx(numbers(computed.at("slope_ci"))[0]).epsilon(1e-8));
  CHECK(got.slope_range.high == Approx(numbers(computed.at("slope_ci"))[1]).epsilon(1e-8));
}

TEST_CASE("Theil-Sen: two wild readings of nine do not move the line", "[metrology]") {
  std::vector<double> x;
  std::vector<double> y;
  for (int i = 0; i < 9; ++i) {
    x.push_back(i);
    y.push_back(1.2 - 0.01 * i);
  }
  y[2] = 7;
  y[7] = -3;
  CHECK(theil_sen(x, y).slope == Approx(-0.01));
  CHECK(theil_sen(x, y).intercept == Approx(1.2).margin(0.011));
}

TEST_CASE("Theil-Sen: two readings and readings at one place are refused", "[metrology]") {
  CHECK_THROWS_AS(theil_sen(std::vector{1.0, 2.0}, std::vector{1.0, 2.0}), base::Error);
  CHECK_THROWS_WITH(theil_sen(std::vector(3, 1.0), std::vector{1.0, 2.0, 3.0}), Catch::Contains("at one place"));
}
