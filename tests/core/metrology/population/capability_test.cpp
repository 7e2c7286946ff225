// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/population/capability.hpp"

#include <catch2/catch.hpp>

#include <boost/math/distributions/normal.hpp>

#include "core/base/error.hpp"
#include "core/base/random.hpp"
#include "core/metrology/chart/limits.hpp"
#include "core/metrology/statistics.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using metrology::Limit;
using metrology::population::capability;
using metrology::population::global_risk;
using metrology::population::share_range;
using test::example;
using test::number;
using test::numbers;

TEST_CASE("capability: the handbook's process", "[metrology]") {
  // NIST/SEMATECH e-Handbook 6.1.6 (examples.json "cp_cpk_nist"): Cp 1.0, Cpk 0.6667, upper 0.6667, lower 1.3333.
  const auto computed = example("cp_cpk_nist").at("computed");
  const auto both = capability({16, 2, 50, 49}, Limit{8, 20});
  CHECK(both.spread.value() == Approx(number(computed.at("cp"))).epsilon(1e-9));
  CHECK(both.nearest == Approx(number(computed.at("cpk"))).epsilon(1e-9));
  const auto lower = capability({16, 2, 50, 49}, Limit{8, {}});
  CHECK(lower.nearest == Approx(number(computed.at("cpl"))).epsilon(1e-9));
  CHECK_FALSE(lower.spread.has_value());
  CHECK_FALSE(lower.spread_range.has_value());
  CHECK(capability({16, 2, 50, 49}, Limit{{}, 20}).nearest == Approx(number(computed.at("cpu"))).epsilon(1e-9));
  CHECK(capability({21, 2, 50, 49}, Limit{8, 20}).nearest == Approx(-1.0 / 6));
}

TEST_CASE("capability: intervals of fifty readings", "[metrology]") {
  // Formulas of the NIST/SEMATECH e-Handbook 6.1.6 (examples.json "capability_interval"): Cp 1.5: 1.20 to 1.80;
  // Cpk 1.2: 0.95 to 1.45; computed digits to 1e-8. Limits -4.5 .. 4.5: Cp 1.5; a mean of 0.9: Cpk 1.2.
  const auto computed = example("capability_interval").at("computed");
  const auto got = capability({0.9, 1, 50, 49}, Limit{-4.5, 4.5});
  CHECK(got.spread_range.value().low == Approx(numbers(computed.at("cp"))[0]).epsilon(1e-8));
  CHECK(got.spread_range.value().high == Approx(numbers(computed.at("cp"))[1]).epsilon(1e-8));
  CHECK(got.nearest == Approx(1.2));
  CHECK(got.nearest_range.low == Approx(numbers(computed.at("cpk"))[0]).epsilon(1e-8));
  CHECK(got.nearest_range.high == Approx(numbers(computed.at("cpk"))[1]).epsilon(1e-8));
}

TEST_CASE("capability: gear diameters within batches and overall", "[metrology]") {
  // examples.json "gear_chart_and_capability", limits 1.000 +- 0.010 chosen there; computed digits to 1e-8.
  const auto computed = example("gear_chart_and_capability").at("computed");
  const auto data = test::table("measurement/gear_diameter.csv");
  std::vector<std::vector<double>> batches(10);
  for (std::size_t i = 0; i < data.at("batch").size(); ++i) {
    batches.at(static_cast<std::size_t>(data.at("batch")[i]) - 1).push_back(data.at("diameter")[i]);
  }
  const auto chart = metrology::chart::averages(batches, metrology::chart::SpreadBy::range);
  const auto all = metrology::statistics(data.at("diameter"));
  const Limit limit{0.99, 1.01};
  const auto within = capability({chart.place.centre, chart.within_sigma, 100, 81}, limit);
  CHECK(within.spread.value() == Approx(number(computed.at("Cp"))).epsilon(1e-8));
  CHECK(within.nearest == Approx(number(computed.at("Cpk"))).epsilon(1e-8));
  const auto overall = capability({all.mean, all.sd, 100, 99}, limit);
  CHECK(overall.spread.value() == Approx(number(computed.at("Pp"))).epsilon(1e-8));
  CHECK(overall.nearest == Approx(number(computed.at("Ppk"))).epsilon(1e-8));
}

TEST_CASE("share range: Wilson's interval of four published counts", "[metrology]") {
  // Statistics in Medicine 17 (1998) 857, table I method 3 (examples.json "wilson_*"), computed digits to 1e-8.
  for (const std::string id : {"wilson_81_263", "wilson_15_148", "wilson_0_20", "wilson_1_29"}) {
    const auto wilson = example(id);
    const auto got = share_range(wilson.at("inputs").at("successes").to_number<std::int64_t>(),
                                 wilson.at("inputs").at("trials").to_number<std::int64_t>());
    CAPTURE(id);
    CHECK(got.low == Approx(number(wilson.at("computed").at("lower"))).epsilon(1e-8));
    CHECK(got.high == Approx(number(wilson.at("computed").at("upper"))).epsilon(1e-8));
  }
  CHECK(share_range(20, 20).high == 1);
  CHECK(share_range(20, 20).low == Approx(1 - share_range(0, 20).high));
}

TEST_CASE("global risk: resistors with four guard bands", "[metrology]") {
  // After the resistor example of JCGM 106:2012 clause 9 (examples.json "global_risk_resistor"); computed, to 1e-7.
  const auto resistor = example("global_risk_resistor");
  const auto& inputs = resistor.at("inputs");
  const auto tolerance = numbers(inputs.at("tolerance"));
  const auto guards = numbers(inputs.at("guard_band"));
  for (std::size_t i = 0; i < guards.size(); ++i) {
    const auto got = global_risk({number(inputs.at("prior_mean")), number(inputs.at("prior_sd"))},
                                 number(inputs.at("u_m")), Limit{tolerance[0], tolerance[1]}, guards[i]);
    const auto truth = numbers(resistor.at("computed").at("consumer_producer").at(i));
    CAPTURE(guards[i]);
    CHECK(got.nonconforming == Approx(number(resistor.at("computed").at("prior_nonconforming"))).epsilon(1e-7));
    CHECK(got.consumers == Approx(truth[0]).epsilon(1e-7));
    CHECK(got.producers == Approx(truth[1]).epsilon(1e-7));
  }
}

TEST_CASE("global risk: a limit with one side, against simulated readings", "[metrology]") {
  // 200 000 draws: true values 1.2 +- 0.06, read with u 0.02, at least 1.10, guard 0.01; four standard errors.
  base::Random random(31, "risk");
  constexpr int draws = 200000;
  int bad_accepted = 0;
  int good_rejected = 0;
  for (int i = 0; i < draws; ++i) {
    const double truth = random.normal(1.2, 0.06);
    const bool is_accepted = random.normal(truth, 0.02) >= 1.11;
    bad_accepted += is_accepted && truth < 1.10;
    good_rejected += !is_accepted && truth >= 1.10;
  }
  const auto got = global_risk({1.2, 0.06}, 0.02, Limit{1.10, {}}, 0.01);
  const auto allowed = [&](double p) { return 4 * std::sqrt(p / draws); };
  CHECK(static_cast<double>(bad_accepted) / draws == Approx(got.consumers).margin(allowed(got.consumers)));
  CHECK(static_cast<double>(good_rejected) / draws == Approx(got.producers).margin(allowed(got.producers)));
  CHECK(got.nonconforming == Approx(boost::math::cdf(boost::math::normal(1.2, 0.06), 1.10)));
}

TEST_CASE("capability, shares, risks: what has no spread, no trials or no side is refused", "[metrology]") {
  CHECK_THROWS_WITH(capability({1, 0, 50, 49}, Limit{0, 2}), Catch::Contains("standard deviation 0"));
  CHECK_THROWS_WITH(capability({1, 1, 50, 49}, Limit{}), Catch::Contains("limit has no side"));
  CHECK_THROWS_WITH(share_range(3, 2), Catch::Contains("3 of 2"));
  CHECK_THROWS_AS(share_range(0, 0), base::Error);
  CHECK_THROWS_WITH(global_risk({1, 1}, 0, Limit{0, 2}, 0), Catch::Contains("u 0"));
}
