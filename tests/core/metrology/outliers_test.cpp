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

TEST_CASE("Grubbs: the handbook's uranium readings have one outlier at the upper side", "[metrology]") {
  // NIST/SEMATECH e-Handbook 1.3.5.17.1 (examples.json "grubbs_uranium"): G 2.4688 > 2.0317, computed digits to 1e-8.
  const auto computed = example("grubbs_uranium").at("computed");
  const auto values = column("measurement/uranium_ms.csv");
  const auto got = metrology::grubbs_one_sided(values, metrology::Tail::upper);
  CHECK(got.statistic == Approx(number(computed.at("G"))).epsilon(1e-8));
  CHECK(got.critical == Approx(number(computed.at("critical"))).epsilon(1e-8));
  CHECK(got.is_outlier);
  CHECK(values[got.place] == *std::max_element(values.begin(), values.end()));
  CHECK_FALSE(metrology::grubbs_one_sided(values, metrology::Tail::lower).is_outlier);
}

TEST_CASE("Grubbs: critical values are those of the table", "[metrology]") {
  // grubbs_critical.csv, columns computed_*: one-sided, printed to 1e-6. Two-sided at 5 % is the 2.5 % column.
  const auto table = test::table("measurement/grubbs_critical.csv");
  REQUIRE(table.at("n").size() == 37);
  for (std::size_t row = 0; row < table.at("n").size(); ++row) {
    std::vector<double> values(static_cast<std::size_t>(table.at("n")[row]), 1.0);
    values[1] = 2;
    CAPTURE(values.size());
    for (const auto& [alpha, name] :
         {std::pair{0.05, "computed_5pct"}, {0.025, "computed_2_5pct"}, {0.01, "computed_1pct"}}) {
      const auto got = metrology::grubbs_one_sided(values, metrology::Tail::upper, alpha);
      CHECK(got.critical == Approx(table.at(name)[row]).margin(1e-6));
    }
    CHECK(metrology::extreme_deviates(values, 1).critical[0] == Approx(table.at("computed_2_5pct")[row]).margin(1e-6));
  }
}

TEST_CASE("Grubbs: equal values have no outlier, two values are too few", "[metrology]") {
  CHECK_FALSE(metrology::grubbs_one_sided(std::vector(5, 1.2), metrology::Tail::lower).is_outlier);
  CHECK_THROWS_WITH(metrology::grubbs_one_sided(std::vector{1.0, 2.0}, metrology::Tail::upper),
                    Catch::Contains("one outlier of 2 values"));
}
