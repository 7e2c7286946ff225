// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/combine.hpp"

#include <catch2/catch.hpp>

#include <numbers>

#include "core/base/error.hpp"
#include "core/metrology/observations.hpp"
#include "core/metrology/type_b.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using metrology::combine;
using metrology::combine_by_gum;
using metrology::Contribution;
using metrology::Shape;
using test::example;
using test::number;
using test::numbers;

TEST_CASE("combine: the end gauge of the GUM", "[metrology]") {
  // JCGM 100:2008 H.1 (examples.json "gum_h1_end_gauge"): u 32 nm, effective degrees of freedom 16.7 truncated to 16
  // (16.64 from the rounded inputs), U99 93 nm; computed values to 1e-8. By convolution the two-degree term has
  // heavier tails than the first-order way knows, so the interval is wider.
  const auto gauge = example("gum_h1_end_gauge");
  const auto u = numbers(gauge.at("inputs").at("u_contributions_nm"));
  const auto nu = numbers(gauge.at("inputs").at("dof"));
  std::vector<Contribution> budget;
  for (std::size_t i = 0; i < u.size(); ++i) {
    budget.push_back({std::to_string(i), 'A', Shape::normal, u[i], nu[i]});
  }
  const auto computed = gauge.at("computed");
  const auto got = combine_by_gum(budget, number(gauge.at("inputs").at("level")));
  CHECK(got.standard_uncertainty == Approx(number(computed.at("u_c_nm"))).epsilon(1e-8));
  CHECK(got.degrees_of_freedom == Approx(number(computed.at("nu_eff"))).epsilon(1e-8));
  CHECK(got.expanded_uncertainty == Approx(number(computed.at("U99_nm"))).epsilon(1e-8));
  CHECK(combine(budget, 0.99).expanded_uncertainty > got.expanded_uncertainty);
}

TEST_CASE("combine: correlated voltages, currents and angles of the GUM's impedance", "[metrology]") {
  // JCGM 100:2008 H.2 (examples.json "gum_h2_impedance"), first-order propagation: R, X, Z, u and correlations to 1e-8.
  // The correlated means are written as sums of three independent sources (Cholesky), shared by name.
  const auto h2 = example("gum_h2_impedance");
  const std::vector<std::vector<double>> series{numbers(h2.at("inputs").at("V")), numbers(h2.at("inputs").at("I_mA")),
                                                numbers(h2.at("inputs").at("phi_rad"))};
  std::vector<double> mean, u;
  for (const auto& s : series) {
    const auto m = metrology::mean_of_independent(s);
    mean.push_back(m.value);
    u.push_back(m.standard_uncertainty);
  }
  const auto published_u = numbers(h2.at("computed").at("u"));
  for (std::size_t i = 0; i < 3; ++i) CHECK(u[i] == Approx(published_u[i]).epsilon(1e-8));
  const auto r = numbers(h2.at("computed").at("r"));  // VI, Vphi, Iphi
  const double l22 = std::sqrt(1 - r[0] * r[0]);
  const double l32 = (r[2] - r[0] * r[1]) / l22;
  const double l33 = std::sqrt(1 - r[1] * r[1] - l32 * l32);
  const double volt = mean[0];
  const double amp = mean[1] / 1000;
  const double z = volt / amp;
  const auto budget_for = [&](double by_v, double by_ma, double by_phi) {
    return std::vector<Contribution>{
        {"1", 'A', Shape::normal, by_v * u[0]},         {"1", 'A', Shape::normal, by_ma * u[1] * r[0]},
        {"2", 'A', Shape::normal, by_ma * u[1] * l22},  {"1", 'A', Shape::normal, by_phi * u[2] * r[1]},
        {"2", 'A', Shape::normal, by_phi * u[2] * l32}, {"3", 'A', Shape::normal, by_phi * u[2] * l33}};
  };
  const double c = std::cos(mean[2]);
  const double s = std::sin(mean[2]);
  const std::vector<std::vector<Contribution>> budgets{budget_for(c / amp, -z * c / mean[1], -z * s),
                                                       budget_for(s / amp, -z * s / mean[1], z * c),
                                                       budget_for(1 / amp, -z / mean[1], 0)};
  const auto propagated = h2.at("computed").at("propagated");
  const auto truth_u = numbers(propagated.at("u"));
  const auto truth_r = numbers(propagated.at("r"));  // RX, RZ, XZ
  for (std::size_t i = 0; i < 3; ++i) {
    CHECK(combine(budgets[i]).standard_uncertainty == Approx(truth_u[i]).epsilon(1e-7));
  }
  const auto correlation = [&](std::size_t a, std::size_t b) {
    return metrology::covariance(budgets[a], budgets[b]) / (truth_u[a] * truth_u[b]);
  };
  CHECK(correlation(0, 1) == Approx(truth_r[0]).epsilon(1e-6));
  CHECK(correlation(0, 2) == Approx(truth_r[1]).epsilon(1e-6));
  CHECK(correlation(1, 2) == Approx(truth_r[2]).epsilon(1e-6));
}

TEST_CASE("combine: the budget of an eye level", "[metrology]") {
  // examples.json "eye_level_budget" (method: GUM clauses 4 to 7, G.4): u 15.0 mV, 147 degrees of freedom, U95 29.6 mV.
  // The example takes all parts as normal; as what they are (dominant gain rectangular, disc with 4 degrees of freedom)
  // the convolution is wider by a few per cent, since Student's tails at 4 degrees of freedom
  // are longer than the first-order way knows: 6 % allowed, half of U's own uncertainty.
  const auto computed = example("eye_level_budget").at("computed");
  const std::vector<Contribution> budget{{"captures", 'A', Shape::normal, 0.0160 / std::sqrt(16.0), 15},
                                         metrology::rectangular("gain of scope", 0.015, 1.2),
                                         metrology::quantisation("code", 0.0125),
                                         metrology::rectangular("probe", 0.01, 1.2),
                                         {"dark level", 'A', Shape::normal, 0.0020, 9},
                                         {"disc and position", 'A', Shape::normal, 0.0060, 4}};
  const auto u = numbers(computed.at("u_v"));
  for (std::size_t i = 0; i < u.size(); ++i) CHECK(budget[i].effect == Approx(u[i]).epsilon(1e-8));
  const auto gum = combine_by_gum(budget);
  CHECK(gum.standard_uncertainty == Approx(number(computed.at("u_c_v"))).epsilon(1e-8));
  CHECK(gum.degrees_of_freedom == Approx(number(computed.at("nu_eff"))).epsilon(1e-8));
  CHECK(gum.expanded_uncertainty == Approx(number(computed.at("U95_v"))).epsilon(1e-8));
  CHECK(combine(budget).expanded_uncertainty == Approx(number(computed.at("U95_v"))).epsilon(0.06));
}

TEST_CASE("combine: equal sources add with their signs, others in squares", "[metrology]") {
  const Contribution gain{"gain", 'B', Shape::rectangular, 3};
  const Contribution against{"gain", 'B', Shape::rectangular, -2};
  const Contribution other{"noise", 'A', Shape::normal, 4, 10};
  CHECK(combine({gain, other}).standard_uncertainty == Approx(5));
  CHECK(combine({gain, against}).standard_uncertainty == Approx(1));
  CHECK(combine({gain, against, {"gain", 'B', Shape::rectangular, -1}}).expanded_uncertainty == 0);
  const Contribution unnamed{"", 'B', Shape::normal, 3};
  CHECK(combine({unnamed, unnamed}).standard_uncertainty == Approx(std::sqrt(18.0)));
  const auto lines = metrology::merged({other, gain, {"noise", 'A', Shape::normal, 1, 3}});
  REQUIRE(lines.size() == 2);
  CHECK(lines[0].effect == 5);
  CHECK(lines[0].degrees_of_freedom == 3);
  CHECK(metrology::covariance({gain, other}, {against, {"noise", 'A', Shape::normal, 1, 3}}) == Approx(-6 + 4));
}

TEST_CASE("combine: an empty budget is exact, nonsense is refused by name", "[metrology]") {
  CHECK(combine({}).standard_uncertainty == 0);
  CHECK(combine({}).expanded_uncertainty == 0);
  const double nan = std::numeric_limits<double>::quiet_NaN();
  CHECK_THROWS_WITH(combine({{"gain", 'B', Shape::normal, nan}}), Catch::Contains("\"gain\" has effect nan"));
  CHECK_THROWS_WITH(combine({{"gain", 'B', Shape::normal, 1, 0.5}}), Catch::Contains("0.5 degrees of freedom"));
  CHECK_THROWS_WITH(combine({{"gain", 'B', Shape::normal, 1, nan}}), Catch::Contains("degrees of freedom"));
  CHECK_THROWS_WITH(combine({{"gain", 'B', Shape::normal, 1}, {"gain", 'B', Shape::rectangular, 1}}),
                    Catch::Contains("two shapes"));
  CHECK_THROWS_AS(combine({}, 1.0), base::Error);
  CHECK_THROWS_AS(combine({}, 0.0), base::Error);
}
