// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/trend/regression.hpp"

#include <catch2/catch.hpp>

#include <limits>

#include "core/base/error.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using metrology::trend::Constant;
using metrology::trend::fit_columns;
using metrology::trend::fit_polynomial;
using metrology::trend::lack_of_fit;
using test::correct_digits;
using test::example;
using test::number;

namespace {

metrology::trend::Fit fit_of(const std::string& name, const std::map<std::string, std::vector<double>>& data) {
  const auto& y = data.at("y");
  if (name == "Longley") {
    std::vector<std::vector<double>> columns;
    for (int j = 1; j <= 6; ++j) columns.push_back(data.at("x" + std::to_string(j)));
    return fit_columns(y, columns);
  }
  if (name.starts_with("NoInt")) return fit_columns(y, std::vector<std::vector<double>>{data.at("x")}, Constant::none);
  const std::size_t degree = name == "Norris" ? 1 : name == "Pontius" ? 2 : name == "Filip" ? 10 : 5;
  return fit_polynomial(data.at("x"), y, degree);
}

struct Digits {
  double coefficients, errors;
};

// One digit less than plain doubles were seen to reach with Householder QR; Filip with centred and scaled powers.
Digits digits_to_expect(const std::string& name) {
  static const std::map<std::string, Digits> expected{
      {"Norris", {12, 12}},    {"Pontius", {11, 11}}, {"NoInt1", {13, 12}},   {"NoInt2", {14, 12}},
      {"Longley", {9, 11}},    {"Filip", {12, 11}},   {"Wampler1", {8.6, 0}}, {"Wampler2", {11.7, 0}},
      {"Wampler3", {8.8, 11}}, {"Wampler4", {7, 11}}, {"Wampler5", {5, 11}}};
  return expected.at(name);
}

}  // namespace

TEST_CASE("regression: the NIST StRD linear sets come out with the digits to expect", "[metrology]") {
  // NIST Statistical Reference Datasets, linear regression: coefficients, standard errors, residual sd, R squared, and
  // the analysis of variance. Wampler1 and 2 fit exactly: there the residual sd is to be 0 (1e-9 of values near 3e6).
  const auto sets = boost::json::parse(test::data_file("nist/linear.json")).as_object().at("sets").as_object();
  REQUIRE(sets.size() == 11);
  for (const auto& [key, set] : sets) {
    const std::string name(key);
    const Digits digits = digits_to_expect(name);
    const auto got = fit_of(name, test::table("nist/" + std::string(set.at("file").as_string().c_str())));
    const auto& truth = set.at("certified");
    const auto& parameters = truth.at("params").as_array();
    REQUIRE(got.coefficients.size() == parameters.size());
    const bool is_exact = number(truth.at("residual_sd")) == 0;
    for (std::size_t i = 0; i < parameters.size(); ++i) {
      CAPTURE(name, i, correct_digits(got.coefficients[i], number(parameters[i].at("estimate"))));
      CHECK(correct_digits(got.coefficients[i], number(parameters[i].at("estimate"))) >= digits.coefficients);
      CAPTURE(correct_digits(got.standard_errors[i], number(parameters[i].at("se"))));
      if (!is_exact) CHECK(correct_digits(got.standard_errors[i], number(parameters[i].at("se"))) >= digits.errors);
      CHECK(std::sqrt(got.covariance[i * parameters.size() + i]) == Approx(got.standard_errors[i]).epsilon(1e-9));
    }
    CAPTURE(name);
    CHECK(correct_digits(got.r_squared, number(truth.at("r_squared"))) >= 11);
    CHECK(correct_digits(got.variance.model_squares, number(truth.at("regression").at("ss"))) >= 12);
    CHECK(got.variance.model_degrees == number(truth.at("regression").at("df")));
    CHECK(got.variance.residual_degrees == number(truth.at("residual").at("df")));
    CAPTURE(got.residual_sd, correct_digits(got.residual_sd, number(truth.at("residual_sd"))));
    if (is_exact) {
      CHECK(got.residual_sd < 1e-9);
      continue;
    }
    CHECK(correct_digits(got.residual_sd, number(truth.at("residual_sd"))) >= 11);
    CHECK(correct_digits(got.variance.residual_squares, number(truth.at("residual").at("ss"))) >= 11);
    CHECK(correct_digits(got.variance.f, number(truth.at("regression").at("f"))) >= 11);
  }
}

TEST_CASE("regression: a load cell's quadratic calibration curve", "[metrology]") {
  // NIST/SEMATECH e-Handbook 2.3.6.5 (examples.json "loadcell_quadratic"), computed digits to 1e-7; the load at a
  // response of 1.344 lies on the curve.
  const auto computed = example("loadcell_quadratic").at("computed");
  const auto data = test::table("measurement/loadcell_calibration.csv");
  const auto got = fit_polynomial(data.at("load"), data.at("response"), 2);
  CHECK(got.coefficients[0] == Approx(number(computed.at("b0"))).epsilon(1e-7));
  CHECK(got.coefficients[1] == Approx(number(computed.at("b1"))).epsilon(1e-8));
  CHECK(got.coefficients[2] == Approx(number(computed.at("b2"))).epsilon(1e-7));
  CHECK(got.residual_sd == Approx(number(computed.at("residual_sd"))).epsilon(1e-7));
  const double load = number(computed.at("load_at_response_1_344"));
  CHECK(got.coefficients[0] + load * (got.coefficients[1] + load * got.coefficients[2]) == Approx(1.344).epsilon(1e-8));
}

TEST_CASE("lack of fit: repeated loads refuse the line and accept the quadratic", "[metrology]") {
  // examples.json "weighted_line_replicates": F 112 for the line (p 3e-16), 0.348 (p 0.937) for the quadratic; 1e-6.
  const auto computed = example("weighted_line_replicates").at("computed");
  const auto data = test::table("measurement/loadcell_calibration.csv");
  const auto& load = data.at("load");
  const auto line = lack_of_fit(load, fit_polynomial(load, data.at("response"), 1)).value();
  CHECK(line.pure_sd == Approx(number(computed.at("replicate_sd"))).epsilon(1e-8));
  CHECK(line.pure_degrees == number(computed.at("replicate_dof")));
  CHECK(line.model_degrees == number(computed.at("dof")));
  CHECK(line.f == Approx(number(computed.at("lack_of_fit_F"))).epsilon(1e-7));
  CHECK(line.p == Approx(number(computed.at("lack_of_fit_p"))).epsilon(1e-5));
  const auto curve = lack_of_fit(load, fit_polynomial(load, data.at("response"), 2)).value();
  CHECK(curve.f == Approx(number(computed.at("quadratic").at("F"))).epsilon(1e-6));
  CHECK(curve.p == Approx(number(computed.at("quadratic").at("p"))).epsilon(1e-6));
}

TEST_CASE("lack of fit: without repeated readings nothing can be said", "[metrology]") {
  const std::vector<double> x{1, 2, 3, 4};
  CHECK_FALSE(lack_of_fit(x, fit_polynomial(x, std::vector{1.0, 2.1, 2.9, 4.2}, 1)).has_value());
  const std::vector<double> two_places{1, 1, 2, 2};
  CHECK_FALSE(lack_of_fit(two_places, fit_polynomial(two_places, std::vector{1.0, 1.1, 2.0, 2.1}, 1)).has_value());
}

TEST_CASE("regression: a reading of weight three counts as three readings", "[metrology]") {
  const std::vector<double> x{1, 2, 3, 4};
  const std::vector<double> y{1.0, 2.3, 2.8, 4.1};
  const std::vector<double> weights{1, 3, 1, 1};
  const auto weighted = fit_polynomial(x, y, 1, weights);
  const auto repeated =
      fit_polynomial(std::vector{1.0, 2.0, 2.0, 2.0, 3.0, 4.0}, std::vector{1.0, 2.3, 2.3, 2.3, 2.8, 4.1}, 1);
  CHECK(weighted.coefficients[0] == Approx(repeated.coefficients[0]).epsilon(1e-12));
  CHECK(weighted.coefficients[1] == Approx(repeated.coefficients[1]).epsilon(1e-12));
  CHECK(weighted.variance.model_squares == Approx(repeated.variance.model_squares).epsilon(1e-12));
  CHECK(weighted.variance.residual_squares == Approx(repeated.variance.residual_squares).epsilon(1e-12));
}

TEST_CASE("regression: what cannot be fitted is refused, with the place", "[metrology]") {
  const std::vector<double> y{1, 2, 3, 4};
  const std::vector<double> x{1, 2, 3, 5};
  CHECK_THROWS_WITH(fit_polynomial(std::vector{1.0, 2.0}, y, 1), Catch::Contains("x holds 2 values for 4 of y"));
  CHECK_THROWS_WITH(fit_polynomial(x, y, 3), Catch::Contains("4 values for 4 coefficients"));
  CHECK_THROWS_WITH(fit_polynomial(std::vector(4, 7.0), y, 1), Catch::Contains("cannot be told apart"));
  CHECK_THROWS_WITH(fit_columns(y, std::vector{x, std::vector{2.0, 4.0, 6.0, 10.0}}),
                    Catch::Contains("column 2 of the 3"));
  CHECK_THROWS_WITH(fit_polynomial(x, y, 1, std::vector{1.0, 1.0, 0.0, 1.0}), Catch::Contains("weight 2 is 0"));
  CHECK_THROWS_WITH(
      fit_columns(y, std::vector<std::vector<double>>{{1.0, std::numeric_limits<double>::infinity(), 2.0, 3.0}}),
      Catch::Contains("value 1 of column 0 of x is inf"));
  CHECK_THROWS_AS(fit_columns(y, {}), base::Error);
  CHECK_THROWS_AS(fit_polynomial(x, y, 0), base::Error);
}
