// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/outliers.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using test::column;
using test::example;
using test::number;
using test::numbers;

TEST_CASE("extreme deviates: the handbook's data have three outliers that mask each other", "[metrology]") {
  // NIST/SEMATECH e-Handbook 1.3.5.17.3 (examples.json "gesd_outliers"): R and critical values to 1e-8; steps 1 and 2
  // alone do not reject.
  const auto gesd = example("gesd_outliers");
  const auto values = column("measurement/gesd_outliers.csv");
  const auto got = metrology::extreme_deviates(values, 10, number(gesd.at("inputs").at("alpha")));
  const auto statistic = numbers(gesd.at("computed").at("R"));
  const auto critical = numbers(gesd.at("computed").at("critical"));
  REQUIRE(got.statistic.size() == statistic.size());
  for (std::size_t i = 0; i < statistic.size(); ++i) {
    CHECK(got.statistic[i] == Approx(statistic[i]).epsilon(1e-8));
    CHECK(got.critical[i] == Approx(critical[i]).epsilon(1e-8));
  }
  REQUIRE(got.places.size() == 3);
  CHECK(values[got.places[0]] == *std::max_element(values.begin(), values.end()));
}

TEST_CASE("extreme deviates: equal values have no outliers, a lone one among them is found", "[metrology]") {
  CHECK(metrology::extreme_deviates(std::vector<double>(30, 1.2), 3).places.empty());
  std::vector<double> values(30, 1.2);
  for (std::size_t i = 0; i < values.size(); ++i) values[i] += i % 2 == 0 ? 0.01 : -0.01;
  values[17] = 2;
  CHECK(metrology::extreme_deviates(values, 3).places == std::vector<std::size_t>{17});
  CHECK_THROWS_AS(metrology::extreme_deviates(values, 0), base::Error);
  CHECK_THROWS_AS(metrology::extreme_deviates(values, 29), base::Error);
}
