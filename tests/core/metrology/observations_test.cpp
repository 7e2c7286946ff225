// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/observations.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "core/base/random.hpp"
#include "core/metrology/coverage.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using test::column;
using test::example;
using test::number;
using test::numbers;

TEST_CASE("mean of observations: the handbook's heat flow and its interval", "[metrology]") {
  // NIST/SEMATECH e-Handbook 1.3.5.2 (examples.json "mean_ci_heat_flow"): 9.261461 within 0.003219 at 95 %; 1e-8.
  const auto computed = example("mean_ci_heat_flow").at("computed");
  const auto mean = metrology::mean_of_independent(column("measurement/heat_flow_calibration.csv"));
  CHECK(mean.count == 195);
  CHECK(mean.value == Approx(number(computed.at("mean"))).epsilon(1e-9));
  CHECK(mean.sd == Approx(number(computed.at("sd"))).epsilon(1e-8));
  const auto interval = metrology::combine({mean.contribution("heat flow")});
  CHECK(mean.value - interval.expanded_uncertainty == Approx(number(computed.at("lower"))).epsilon(1e-9));
  CHECK(mean.value + interval.expanded_uncertainty == Approx(number(computed.at("upper"))).epsilon(1e-9));
}

TEST_CASE("mean of observations: the GUM's impedance by the mean of per-set values", "[metrology]") {
  // JCGM 100:2008 H.2, second approach (examples.json "gum_h2_impedance", "per_set_then_mean"): to 1e-8.
  const auto h2 = example("gum_h2_impedance");
  const auto volt = numbers(h2.at("inputs").at("V"));
  const auto milliamp = numbers(h2.at("inputs").at("I_mA"));
  const auto phi = numbers(h2.at("inputs").at("phi_rad"));
  std::vector<double> r, x, z;
  for (std::size_t i = 0; i < volt.size(); ++i) {
    z.push_back(volt[i] / milliamp[i] * 1000);
    r.push_back(z.back() * std::cos(phi[i]));
    x.push_back(z.back() * std::sin(phi[i]));
  }
  const auto truth = h2.at("computed").at("per_set_then_mean");
  std::size_t k = 0;
  for (const auto* values : {&r, &x, &z}) {
    const auto mean = metrology::mean_of_independent(*values);
    CHECK(mean.value == Approx(number(truth.at("y").at(k))).epsilon(1e-9));
    CHECK(mean.standard_uncertainty == Approx(number(truth.at("u").at(k))).epsilon(1e-8));
    CHECK(mean.degrees_of_freedom == 4);
    ++k;
  }
}

TEST_CASE("mean of observations: correlated ones state a larger uncertainty", "[metrology]") {
  // examples.json "effective_sample_size" (Michelso, r_1 certified): the naive u 0.0079 is too small. u must be
  // at least the 0.01436 of a first-order series of that r_1.
  const auto computed = example("effective_sample_size").at("computed");
  const auto values = column("nist/michelso.csv");
  CHECK(metrology::mean_of_independent(values).standard_uncertainty ==
        Approx(number(computed.at("u_naive"))).epsilon(1e-8));
  const auto mean = metrology::mean_of_observations(values);
  CHECK(mean.standard_uncertainty >= number(computed.at("u_corrected")) * (1 - 1e-8));
  CHECK(mean.effective_count <= number(computed.at("n_eff")) * (1 + 1e-8));
  CHECK(mean.degrees_of_freedom == Approx(mean.effective_count - 1));
}

TEST_CASE("mean of observations: the spread of s for few observations is as the GUM says", "[metrology]") {
  // GUM table E.1 (examples.json "relative_sd_of_s"): s from n observations scatters by 76, 52, 42, 36, 24, 16 ... %.
  // 20 000 series of n normal values; the scatter of the scatter is below 1.5 % of itself: 4 % covers it (n 2: tails).
  const auto relative = example("relative_sd_of_s");
  const auto n = numbers(relative.at("inputs").at("n"));
  const auto percent = numbers(relative.at("computed").at("pct"));
  base::Random random(7, "spread of s");
  for (std::size_t k = 0; k < 5; ++k) {
    CAPTURE(n[k]);
    double sum = 0, squares = 0;
    constexpr int series = 20000;
    for (int i = 0; i < series; ++i) {
      std::vector<double> values(static_cast<std::size_t>(n[k]));
      for (double& v : values) v = random.normal();
      const double s = metrology::mean_of_independent(values).sd;
      sum += s;
      squares += s * s;
    }
    const double mean_s = sum / series;
    const double scatter = std::sqrt(squares / series - mean_s * mean_s) / mean_s;
    CHECK(100 * scatter == Approx(percent[k]).epsilon(0.04));
  }
}

TEST_CASE("mean of observations: the stated interval holds the truth as often as it says", "[metrology]") {
  // 4000 series of 12 normal values: 95 % within 4 sqrt(0.95 * 0.05/4000) = 1.4 %.
  base::Random random(8, "intervals");
  int inside = 0;
  constexpr int series = 4000;
  for (int i = 0; i < series; ++i) {
    std::vector<double> values(12);
    for (double& v : values) v = random.normal(3, 2);
    const auto mean = metrology::mean_of_independent(values);
    inside += std::abs(mean.value - 3) <= metrology::combine({mean.contribution("x")}).expanded_uncertainty;
  }
  CHECK(static_cast<double>(inside) / series == Approx(0.95).margin(4 * std::sqrt(0.95 * 0.05 / series)));
  CHECK_THROWS_WITH(metrology::mean_of_observations(std::vector{1.0}), Catch::Contains("two or more"));
}

TEST_CASE("settled: correlated readings, a drift and a curve are not settled, noise is", "[metrology]") {
  // examples.json "allan_michelso": ratio 0.929 against 1.674.
  const auto computed = example("allan_michelso").at("computed");
  const auto michelso = metrology::settled(column("nist/michelso.csv"), {.limit_width = 100});
  CHECK_FALSE(michelso.is_settled);
  CHECK(michelso.von_neumann_ratio == Approx(number(computed.at("von_neumann_ratio"))).epsilon(1e-8));
  CHECK(michelso.least_ratio == Approx(number(computed.at("lower_5pct_limit"))).epsilon(1e-8));
  CHECK_THAT(michelso.because, Catch::Contains("resemble"));

  const std::vector<double> drifting{1.00, 1.02, 1.01, 1.03, 1.02, 1.04, 1.03, 1.05};
  const auto drift = metrology::settled(drifting, {.limit_width = 0.24});
  CHECK_FALSE(drift.is_settled);
  CHECK(drift.drift == Approx(0.04).epsilon(1e-9));  // least squares by hand: slope 0.24/42 a value, over 7
  CHECK(drift.allowed_drift == Approx(0.024));
  CHECK_THAT(drift.because, Catch::Contains("drifts by 0.04 over 8 values, 0.024 allowed"));

  const std::vector<double> steady{1.20, 1.21, 1.19, 1.21, 1.20, 1.19, 1.21, 1.20};
  CHECK(metrology::settled(steady, {.limit_width = 0.24}).is_settled);
  CHECK(metrology::settled(std::vector<double>(8, 1.2), {.limit_width = 0.24}).is_settled);
}

TEST_CASE("settled: white noise is called moving in one case of twenty, as the 5 % limit says", "[metrology]") {
  // 4000 series of 16; drift allowed widely, so that only the ratio decides. The normal approximation of the limit is
  // good to 1 % of the cases; four standard errors of the share are 1.4 %.
  base::Random random(9, "settled");
  int moving = 0;
  constexpr int series = 4000;
  for (int i = 0; i < series; ++i) {
    std::vector<double> values(16);
    for (double& v : values) v = random.normal();
    moving += !metrology::settled(values, {.limit_width = 1000}).is_settled;
  }
  CHECK(static_cast<double>(moving) / series == Approx(0.05).margin(0.024));
}

TEST_CASE("settled: too few values and a limit without width are refused", "[metrology]") {
  CHECK_THROWS_WITH(metrology::settled(std::vector<double>(7, 1), {.limit_width = 1}), Catch::Contains("8 or more"));
  CHECK_THROWS_AS(metrology::settled(std::vector<double>(8, 1), {}), base::Error);
}
