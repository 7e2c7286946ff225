// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/statistics.hpp"

#include <catch2/catch.hpp>

#include <limits>

#include "core/base/error.hpp"
#include "core/base/random.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using test::column;
using test::correct_digits;
using test::example;
using test::number;
using test::numbers;

TEST_CASE("statistics: the NIST StRD univariate sets come out with all digits that doubles hold", "[metrology]") {
  // NIST Statistical Reference Datasets, univariate. Against the statistics of the data as doubles: 14 digits asked
  // for mean and s, 11 for r_1 (a quotient of sums that cancel). NumAcc3 and 4 lose digits against the certificate
  // only because their decimals do not fit a double.
  const auto sets = boost::json::parse(test::data_file("nist/univariate.json")).as_object().at("sets").as_object();
  REQUIRE(sets.size() == 9);
  for (const auto& [name, set] : sets) {
    CAPTURE(std::string(name));
    const auto values = column("nist/" + std::string(set.at("file").as_string().c_str()));
    REQUIRE(values.size() == set.at("n").to_number<std::size_t>());
    const auto& truth = set.at("value_for_data_rounded_to_double");
    const auto got = metrology::statistics(values);
    CHECK(correct_digits(got.mean, number(truth.at("mean"))) >= 14);
    CHECK(correct_digits(got.sd, number(truth.at("sd"))) >= 14);
    CHECK(correct_digits(metrology::autocorrelation(values, 1), number(truth.at("autocorr_lag1"))) >= 11);
    const auto& certified = set.at("certified");
    CHECK(correct_digits(got.mean, number(certified.at("mean"))) >= 14);
    CHECK(correct_digits(got.sd, number(certified.at("sd"))) >= 8);  // 8.3 possible for NumAcc4
  }
}

TEST_CASE("statistics: one value has no spread, none is refused, NaN is named by its place", "[metrology]") {
  CHECK(metrology::statistics(std::vector{3.5}).mean == 3.5);
  CHECK(metrology::statistics(std::vector{3.5}).sd == 0);
  CHECK_THROWS_AS(metrology::statistics(std::vector<double>{}), base::Error);
  CHECK_THROWS_WITH(metrology::statistics(std::vector{1.0, std::numeric_limits<double>::quiet_NaN()}),
                    Catch::Contains("value 1 of 2 is nan"));
  CHECK_THROWS_WITH(metrology::statistics(std::vector{std::numeric_limits<double>::infinity(), 1.0}),
                    Catch::Contains("value 0 of 2 is inf"));
}

TEST_CASE("effective count: the first-order form gives the worked example", "[metrology]") {
  // examples.json "effective_sample_size": r_1 certified by NIST (Michelso), n_eff = n (1 - r)/(1 + r); printed digits.
  const auto computed = example("effective_sample_size").at("computed");
  const auto values = column("nist/michelso.csv");
  const double n_eff = metrology::effective_count_first_order(values.size(), metrology::autocorrelation(values, 1));
  CHECK(n_eff == Approx(number(computed.at("n_eff"))).epsilon(1e-8));
  CHECK(metrology::statistics(values).sd / std::sqrt(n_eff) ==
        Approx(number(computed.at("u_corrected"))).epsilon(1e-8));
  CHECK_THROWS_AS(metrology::effective_count_first_order(10, 1.0), base::Error);
}

TEST_CASE("effective count: u of the mean is right for independent and for correlated series", "[metrology]") {
  // Truth by simulation: 2000 series of 64 values; the scatter of their means over the u that each series states.
  // First-order series with correlation r; the true scatter is s sqrt((1 + r)/(1 - r)/n) (large n). Stated u is allowed
  // to be up to 12 % off, the bias of sums that stop in the noise; the simulation itself has 1.6 % (1 / sqrt(2 *
  // 2000)).
  base::Random random(20, "effective count");
  for (const double r : {0.0, 0.3, 0.5}) {
    CAPTURE(r);
    double squares = 0;
    double stated = 0;
    constexpr int series = 2000;
    for (int k = 0; k < series; ++k) {
      std::vector<double> values(64);
      double x = random.normal();
      for (double& v : values) {
        v = x;
        x = r * x + std::sqrt(1 - r * r) * random.normal();
      }
      const auto s = metrology::statistics(values);
      squares += s.mean * s.mean;
      stated += s.sd * s.sd / metrology::effective_count(values);
    }
    CHECK(std::sqrt(stated / squares) == Approx(1).margin(0.12));
  }
}

TEST_CASE("effective count: never above the count nor below one", "[metrology]") {
  std::vector<double> alternating;
  std::vector<double> ramp;
  for (int i = 0; i < 50; ++i) {
    alternating.push_back(i % 2 == 0 ? 1 : -1);
    ramp.push_back(i);
  }
  CHECK(metrology::effective_count(alternating) == 50);
  CHECK(metrology::effective_count(ramp) >= 1);
  CHECK(metrology::effective_count(ramp) < 5);
  CHECK(metrology::effective_count(std::vector{2.0, 2.0, 2.0}) == 3);  // constant: no correlation to be seen
}

TEST_CASE("von Neumann ratio and Allan deviation: the worked examples come out", "[metrology]") {
  // examples.json "allan_michelso" (relative 1e-8) and "allan_nbs_9" (NIST SP 1065, table 30: printed digits).
  const auto michelso = example("allan_michelso");
  const auto values = column("nist/michelso.csv");
  CHECK(metrology::von_neumann_ratio(values) ==
        Approx(number(michelso.at("computed").at("von_neumann_ratio"))).epsilon(1e-8));
  const auto m = numbers(michelso.at("inputs").at("m"));
  const auto overlapping = numbers(michelso.at("computed").at("overlapping"));
  for (std::size_t i = 0; i < m.size(); ++i) {
    CHECK(metrology::allan_deviation(values, static_cast<std::size_t>(m[i])) == Approx(overlapping[i]).epsilon(1e-8));
  }
  const auto nine = example("allan_nbs_9");
  const auto data = numbers(nine.at("inputs").at("data"));
  const auto published = numbers(nine.at("published").at("overlapping"));
  CHECK(metrology::allan_deviation(data, 1) == Approx(published[0]).margin(5e-6));
  CHECK(metrology::allan_deviation(data, 2) == Approx(published[1]).margin(5e-6));
  CHECK_THROWS_AS(metrology::allan_deviation(data, 5), base::Error);
}

TEST_CASE("robust location: median, MAD and trimmed mean give the worked example", "[metrology]") {
  // examples.json "robust_location", data of the NIST/SEMATECH e-Handbook 1.3.5.17.3; relative 1e-8.
  const auto computed = example("robust_location").at("computed");
  const auto values = column("measurement/gesd_outliers.csv");
  const auto got = metrology::robust_location(values);
  CHECK(got.median == Approx(number(computed.at("median"))).epsilon(1e-8));
  CHECK(got.mad == Approx(number(computed.at("mad"))).epsilon(1e-8));
  CHECK(got.mad_scaled == Approx(number(computed.at("mad_scaled"))).epsilon(1e-8));
  const auto trimmed = metrology::trimmed_mean(values, 5);
  CHECK(trimmed.mean == Approx(number(computed.at("trimmed_mean"))).epsilon(1e-8));
  CHECK(trimmed.standard_error == Approx(number(computed.at("trimmed_se"))).epsilon(1e-8));
  CHECK_THROWS_AS(metrology::trimmed_mean(std::vector{1.0, 2.0}, 1), base::Error);
}

TEST_CASE("quantile of sorted values: straight lines between order statistics", "[metrology]") {
  const std::vector<double> sorted{1, 2, 4, 8};
  CHECK(metrology::quantile_of_sorted(sorted, 0) == 1);
  CHECK(metrology::quantile_of_sorted(sorted, 1) == 8);
  CHECK(metrology::quantile_of_sorted(sorted, 0.5) == 3);
  CHECK_THROWS_AS(metrology::quantile_of_sorted(sorted, 1.5), base::Error);
}
