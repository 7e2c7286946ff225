// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/trend/line.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "core/base/random.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using metrology::trend::band_at;
using metrology::trend::crossing;
using metrology::trend::fit_line;
using metrology::trend::fit_weighted_line;
using metrology::trend::Line;
using metrology::trend::Speaks;
using metrology::trend::standard_error_at;
using test::example;
using test::number;
using test::numbers;

namespace {

Line linewidth_line() {
  const auto data = test::table("measurement/linewidth_calibration.csv");
  return fit_line(data.at("x_um"), data.at("y_um"));
}

}  // namespace

TEST_CASE("line: confidence and prediction bands of the handbook's pressure line", "[metrology]") {
  // NIST/SEMATECH e-Handbook 4.4.4 (examples.json "pressure_temperature_line"), computed digits to 1e-8.
  const auto computed = example("pressure_temperature_line").at("computed");
  const auto data = test::table("measurement/pressure_temperature.csv");
  const Line line = fit_line(data.at("temperature"), data.at("pressure"));
  CHECK(line.intercept == Approx(number(computed.at("b0"))).epsilon(1e-8));
  CHECK(line.slope == Approx(number(computed.at("b1"))).epsilon(1e-8));
  CHECK(line.residual_sd == Approx(number(computed.at("residual_sd"))).epsilon(1e-8));
  for (const auto& at : computed.at("predictions").as_array()) {
    const double x = number(at.at("x"));
    CHECK(line.at(x) == Approx(number(at.at("y"))).epsilon(1e-8));
    CHECK(standard_error_at(line, x, Speaks::of_mean) == Approx(number(at.at("se_mean"))).epsilon(1e-8));
    CHECK(standard_error_at(line, x, Speaks::of_next_reading) == Approx(number(at.at("se_new"))).epsilon(1e-8));
    const auto mean = band_at(line, x, Speaks::of_mean);
    CHECK(mean.low == Approx(numbers(at.at("ci95"))[0]).epsilon(1e-8));
    CHECK(mean.high == Approx(numbers(at.at("ci95"))[1]).epsilon(1e-8));
    const auto next = band_at(line, x, Speaks::of_next_reading);
    CHECK(next.low == Approx(numbers(at.at("pi95"))[0]).epsilon(1e-8));
    CHECK(next.high == Approx(numbers(at.at("pi95"))[1]).epsilon(1e-8));
  }
}

TEST_CASE("line: the GUM's thermometer", "[metrology]") {
  // JCGM 100:2008 H.3 (examples.json "gum_h3_thermometer"): correction at 30 degrees -0.1494, u 0.0041; to 1e-8.
  const auto thermometer = example("gum_h3_thermometer");
  const auto computed = thermometer.at("computed");
  auto t = numbers(thermometer.at("inputs").at("t"));
  for (double& v : t) v -= number(thermometer.at("inputs").at("t0"));
  const Line line = fit_line(t, numbers(thermometer.at("inputs").at("b")));
  CHECK(line.intercept == Approx(number(computed.at("y1"))).epsilon(1e-8));
  CHECK(line.u_intercept == Approx(number(computed.at("s_y1"))).epsilon(1e-8));
  CHECK(line.slope == Approx(number(computed.at("y2"))).epsilon(1e-8));
  CHECK(line.u_slope == Approx(number(computed.at("s_y2"))).epsilon(1e-8));
  CHECK(line.covariance / (line.u_intercept * line.u_slope) == Approx(number(computed.at("r"))).epsilon(1e-8));
  CHECK(line.residual_sd == Approx(number(computed.at("s"))).epsilon(1e-8));
  CHECK(line.degrees_of_freedom == number(computed.at("dof")));
  CHECK(line.at(10) == Approx(number(computed.at("b30"))).epsilon(1e-8));
  CHECK(standard_error_at(line, 10, Speaks::of_mean) == Approx(number(computed.at("u_b30"))).epsilon(1e-8));
}

TEST_CASE("line: what a reading speaks of, with Fieller's limits", "[metrology]") {
  // NIST/SEMATECH e-Handbook 2.3.6.7.3 (examples.json "linewidth_inverse_prediction"), computed digits to 1e-8.
  const auto computed = example("linewidth_inverse_prediction").at("computed");
  const Line line = linewidth_line();
  CHECK(line.intercept == Approx(number(computed.at("a"))).epsilon(1e-8));
  CHECK(line.slope == Approx(number(computed.at("b"))).epsilon(1e-8));
  CHECK(line.u_intercept * line.u_intercept == Approx(numbers(computed.at("cov"))[0]).epsilon(1e-8));
  CHECK(line.covariance == Approx(numbers(computed.at("cov"))[1]).epsilon(1e-8));
  CHECK(line.u_slope * line.u_slope == Approx(numbers(computed.at("cov"))[2]).epsilon(1e-8));
  for (const auto& at : computed.at("inverse").as_array()) {
    const auto got = metrology::trend::read_back(line, number(at.at("y")));
    CHECK(got.x == Approx(number(at.at("x"))).epsilon(1e-8));
    CHECK(got.standard_uncertainty == Approx(number(at.at("u"))).epsilon(1e-8));
    CHECK(got.limits.value().low == Approx(numbers(at.at("fieller"))[0]).epsilon(1e-8));
    CHECK(got.limits.value().high == Approx(numbers(at.at("fieller"))[1]).epsilon(1e-8));
  }
}

TEST_CASE("line: check standards find the day on which the calibration does not hold", "[metrology]") {
  // Method of NIST/SEMATECH e-Handbook 2.3.7 (examples.json "linewidth_control"): day 4 is out; W to 1e-8.
  const auto control = example("linewidth_control");
  const auto truth = numbers(control.at("computed").at("W"));
  const auto data = test::table("measurement/linewidth_check_standards.csv");
  const Line line = linewidth_line();
  const double limit = metrology::trend::check_limit(line, 3);
  CHECK(limit == Approx(number(control.at("computed").at("limit"))).epsilon(1e-8));
  std::vector<double> days;
  for (std::size_t i = 0; i < truth.size(); ++i) {
    const double w = metrology::trend::read_back(line, data.at("y_um")[i]).x - data.at("x_um")[i];
    CHECK(w == Approx(truth[i]).margin(1e-9));
    if (std::abs(w) > limit) days.push_back(data.at("day")[i]);
  }
  CHECK(days == std::vector{4.0, 4.0, 4.0});
}

TEST_CASE("line: where the band crosses a level, the band is at that level", "[metrology]") {
  const Line line = fit_line(std::vector{0.0, 1.0, 2.0, 3.0, 4.0}, std::vector{1.0, 0.85, 0.83, 0.66, 0.61});
  for (const Speaks speaks : {Speaks::of_mean, Speaks::of_next_reading}) {
    const auto got = crossing(line, 0.3, speaks).value();
    CHECK(band_at(line, got.low, speaks).low == Approx(0.3).epsilon(1e-10));
    CHECK(band_at(line, got.high, speaks).high == Approx(0.3).epsilon(1e-10));
  }
}

TEST_CASE("line: a slope that may be 0 crosses nothing", "[metrology]") {
  const Line noise = fit_line(std::vector{0.0, 1.0, 2.0, 3.0}, std::vector{1.0, 1.1, 0.9, 1.05});
  CHECK(metrology::trend::slope_doubt(noise) > 1);
  CHECK_FALSE(crossing(noise, 0.5, Speaks::of_mean).has_value());
  const Line level = fit_line(std::vector{0.0, 1.0, 2.0, 3.0}, std::vector{1.0, 1.0, 1.0, 1.0});
  CHECK_FALSE(crossing(level, 0.5, Speaks::of_mean).has_value());
}

TEST_CASE("line: the bands hold the truth as often as they say", "[metrology]") {
  // 4000 lines through six readings; beyond the readings; four standard errors of the share.
  base::Random random(3, "bands");
  const std::vector<double> x{0, 1, 2, 4, 5, 9};
  constexpr int lines = 4000;
  int mean = 0;
  int next = 0;
  int crossed = 0;
  for (int i = 0; i < lines; ++i) {
    std::vector<double> y;
    for (const double v : x) y.push_back(random.normal(10 - v, 0.4));
    const Line line = fit_line(x, y);
    const auto of_mean = band_at(line, 12, Speaks::of_mean);
    const auto of_next = band_at(line, 12, Speaks::of_next_reading);
    const double reading = random.normal(10 - 12, 0.4);
    mean += of_mean.low <= -2 && -2 <= of_mean.high;
    next += of_next.low <= reading && reading <= of_next.high;
    const auto at_level = crossing(line, -2, Speaks::of_mean);
    crossed += at_level && at_level->low <= 12 && 12 <= at_level->high;
  }
  const double allowed = 4 * std::sqrt(0.95 * 0.05 / lines);
  CHECK(static_cast<double>(mean) / lines == Approx(0.95).margin(allowed));
  CHECK(static_cast<double>(next) / lines == Approx(0.95).margin(allowed));
  CHECK(static_cast<double>(crossed) / lines == Approx(0.95).margin(allowed));
}

TEST_CASE("weighted line: means of replicates with their u, and a scatter that is larger than stated", "[metrology]") {
  // examples.json "weighted_line_replicates": the line of all readings; chi squared 1010, Birge ratio 10.6 (1e-7).
  const auto computed = example("weighted_line_replicates").at("computed");
  const auto data = test::table("measurement/loadcell_calibration.csv");
  std::map<double, std::vector<double>> groups;
  for (std::size_t i = 0; i < data.at("load").size(); ++i) {
    groups[data.at("load")[i]].push_back(data.at("response")[i]);
  }
  REQUIRE(groups.size() == 11);
  std::vector<double> x;
  std::vector<double> y;
  for (const auto& [load, responses] : groups) {
    x.push_back(load);
    y.push_back((responses.at(0) + responses.at(1) + responses.at(2)) / 3);
  }
  const double replicate_sd = number(computed.at("replicate_sd"));
  const auto got = fit_weighted_line(x, y, std::vector(11, replicate_sd / std::sqrt(3.0)));
  CHECK(got.intercept == Approx(number(computed.at("b0"))).epsilon(1e-8));
  CHECK(got.slope == Approx(number(computed.at("b1"))).epsilon(1e-8));
  CHECK(got.chi_squared == Approx(number(computed.at("chi2"))).epsilon(1e-7));
  CHECK(got.degrees_of_freedom == number(computed.at("dof")));
  CHECK(got.birge_ratio == Approx(number(computed.at("birge"))).epsilon(1e-7));
  CHECK(got.is_scaled);
  // Equal weights: scaled by the ratio, the uncertainties are those of the plain line through the means.
  const Line plain = fit_line(x, y);
  CHECK(got.u_slope == Approx(plain.u_slope).epsilon(1e-8));
  CHECK(got.u_intercept == Approx(plain.u_intercept).epsilon(1e-8));
  CHECK(got.covariance == Approx(plain.covariance).epsilon(1e-8));
}

TEST_CASE("weighted line: readings that scatter less than stated keep the stated uncertainty", "[metrology]") {
  // Slope of an exact line, u 0.5 each: 0.5/sqrt(Sxx) with Sxx 5.
  const std::vector<double> x{0, 1, 2, 3};
  const auto got = fit_weighted_line(x, std::vector{1.0, 3.0, 5.0, 7.0}, std::vector(4, 0.5));
  CHECK_FALSE(got.is_scaled);
  CHECK(got.u_slope == Approx(0.5 / std::sqrt(5.0)).epsilon(1e-12));
  CHECK(got.u_intercept == Approx(0.5 * std::sqrt(0.25 + 1.5 * 1.5 / 5)).epsilon(1e-12));
}

TEST_CASE("line: two readings, one place and uncertainties of 0 are refused", "[metrology]") {
  CHECK_THROWS_WITH(fit_line(std::vector{1.0, 2.0}, std::vector{1.0, 2.0}), Catch::Contains("2 values for 2"));
  CHECK_THROWS_AS(fit_line(std::vector(3, 1.0), std::vector{1.0, 2.0, 3.0}), base::Error);
  CHECK_THROWS_WITH(
      fit_weighted_line(std::vector{1.0, 2.0, 3.0}, std::vector{1.0, 2.0, 3.0}, std::vector{0.1, 0.0, 0.1}),
      Catch::Contains("standard uncertainty 1 is 0"));
  CHECK_THROWS_AS(metrology::trend::check_limit(linewidth_line(), 0), base::Error);
}
