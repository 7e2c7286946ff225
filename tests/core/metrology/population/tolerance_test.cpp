// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/population/tolerance.hpp"

#include <catch2/catch.hpp>

#include <boost/math/distributions/normal.hpp>

#include "core/base/error.hpp"
#include "core/base/random.hpp"
#include "core/metrology/statistics.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using metrology::population::tolerance_confidence;
using metrology::population::tolerance_factor_one_sided;
using metrology::population::tolerance_factor_two_sided;
using test::example;
using test::number;

TEST_CASE("tolerance factors: all of the table", "[metrology]") {
  // tolerance_factors.csv: exact k1 and k2, 2 to 200 values; 1e-5 as printed, large ones to half a printed digit.
  const auto table = test::table("measurement/tolerance_factors.csv");
  REQUIRE(table.at("n").size() == 37);
  for (const int share : {90, 95, 99}) {
    for (const int confidence : {95, 99}) {
      const std::string column = "_p" + std::to_string(share) + "_g" + std::to_string(confidence);
      for (std::size_t row = 0; row < table.at("n").size(); ++row) {
        const auto n = static_cast<std::size_t>(table.at("n")[row]);
        CAPTURE(column, n);
        CHECK(tolerance_factor_one_sided(n, {share / 100.0, confidence / 100.0}) ==
              Approx(table.at("k1" + column)[row]).margin(1e-5));
        CHECK(tolerance_factor_two_sided(n, {share / 100.0, confidence / 100.0}) ==
              Approx(table.at("k2" + column)[row]).margin(1e-5));
      }
    }
  }
}

TEST_CASE("tolerance factors: the handbook's 43 wafers", "[metrology]") {
  // NIST/SEMATECH e-Handbook 7.2.6.3 (examples.json "tolerance_factor_nist"), exact factors to 1e-8; the printed ones
  // are approximations.
  const auto wafers = example("tolerance_factor_nist");
  const metrology::population::Stated stated{number(wafers.at("inputs").at("coverage")),
                                             number(wafers.at("inputs").at("confidence"))};
  CHECK(tolerance_factor_two_sided(43, stated) == Approx(number(wafers.at("computed").at("k2_exact"))).epsilon(1e-8));
  CHECK(tolerance_factor_one_sided(43, stated) == Approx(number(wafers.at("computed").at("k1_exact"))).epsilon(1e-8));
}

TEST_CASE("tolerance confidence: two standard deviations of ten units are trusted too much", "[metrology]") {
  // examples.json "tolerance_from_references": 40 %.
  CHECK(tolerance_confidence(10, 0.95, 2) ==
        Approx(number(example("tolerance_from_references").at("computed").at("confidence_of_two_sigma_limits")))
            .epsilon(1e-8));
}

TEST_CASE("tolerance factors: limits from five units hold the share as often as stated", "[metrology]") {
  // 20 000 normal samples of five: the share of limits that hold 90 % of the population; four standard errors allowed.
  base::Random random(7, "tolerance");
  const metrology::population::Stated stated{0.9, 0.95};
  const double two_sided = tolerance_factor_two_sided(5, stated);
  const double one_sided = tolerance_factor_one_sided(5, stated);
  const boost::math::normal population;
  constexpr int samples = 20000;
  int both = 0;
  int upper = 0;
  for (int i = 0; i < samples; ++i) {
    std::vector<double> values(5);
    for (double& v : values) v = random.normal();
    const auto s = metrology::statistics(values);
    const double below = boost::math::cdf(population, s.mean - two_sided * s.sd);
    both += boost::math::cdf(population, s.mean + two_sided * s.sd) - below >= stated.share;
    upper += boost::math::cdf(population, s.mean + one_sided * s.sd) >= stated.share;
  }
  const double allowed = 4 * std::sqrt(0.95 * 0.05 / samples);
  CHECK(static_cast<double>(both) / samples == Approx(stated.confidence).margin(allowed));
  CHECK(static_cast<double>(upper) / samples == Approx(stated.confidence).margin(allowed));
}

TEST_CASE("tolerance factors: thousands of values come near the normal quantile", "[metrology]") {
  CHECK(tolerance_factor_two_sided(100000, {}) == Approx(1.959964).epsilon(0.005));
  CHECK(tolerance_factor_one_sided(100000, {}) == Approx(1.644854).epsilon(0.01));
}

TEST_CASE("tolerance factors: what cannot be stated is refused", "[metrology]") {
  CHECK_THROWS_WITH(tolerance_factor_two_sided(1, {}), Catch::Contains("from 1 values"));
  CHECK_THROWS_AS(tolerance_factor_one_sided(10, {1.0, 0.95}), base::Error);
  CHECK_THROWS_AS(tolerance_factor_two_sided(10, {0.95, 0}), base::Error);
  CHECK_THROWS_AS(tolerance_confidence(10, 0.95, -1), base::Error);
}
