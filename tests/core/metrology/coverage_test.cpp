// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/coverage.hpp"

#include <catch2/catch.hpp>

#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <numbers>

#include "core/base/random.hpp"
#include "core/metrology/combine.hpp"
#include "tests/support/measurement_data.hpp"
#include "tests/support/number.hpp"

using namespace eyelevel;
using metrology::Contribution;
using metrology::coverage_half_width;
using metrology::Shape;
using test::example;
using test::number;

namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();
// What coverage.hpp promises: 0.1 % of the half-width.
constexpr double promised = 1e-3;

Contribution part(Shape shape, double effect, double nu = infinite) { return {"", 'B', shape, effect, nu}; }

double cumulative(const Contribution& c, double x) {
  switch (c.shape) {
    case Shape::normal:
      return std::isfinite(c.degrees_of_freedom)
                 ? boost::math::cdf(boost::math::students_t(c.degrees_of_freedom), x / c.effect)
                 : boost::math::cdf(boost::math::normal(0, c.effect), x);
    case Shape::rectangular: return std::clamp(0.5 + x / (2 * std::sqrt(3.0) * c.effect), 0.0, 1.0);
    case Shape::triangular: {
      const double t = std::clamp(x / (std::sqrt(6.0) * c.effect), -1.0, 1.0);
      return t < 0 ? (1 + t) * (1 + t) / 2 : 1 - (1 - t) * (1 - t) / 2;
    }
    case Shape::arcsine: break;
  }
  const double t = std::clamp(x / (std::sqrt(2.0) * c.effect), -1.0, 1.0);
  return 0.5 + std::asin(t) / std::numbers::pi;
}

// Truth by another way than the characteristic function: the second part's distribution averaged over 1500 cells of the
// first, which are narrow at its middle (sinh) unless it is bounded.
double probability_within(const Contribution& a, const Contribution& b, double half_width) {
  constexpr int cells = 1500;
  const bool bounded = a.shape != Shape::normal;
  const auto edge = [&](double i) {
    const double s = 2 * i / cells - 1;
    return a.effect * (bounded ? 2.5 * s : std::sinh(6 * s));
  };
  double sum = 0;
  double below = 0;
  for (int i = 0; i < cells; ++i) {
    const double up_to = i + 1 == cells ? 1 : cumulative(a, edge(i + 1));
    const double x = edge(i + 0.5);
    sum += (up_to - below) * (cumulative(b, half_width - x) - cumulative(b, -half_width - x));
    below = up_to;
  }
  return sum;
}

}  // namespace

TEST_CASE("coverage: one shape alone has its closed form", "[metrology]") {
  for (const double p : {0.5, 0.6827, 0.95, 0.99}) {
    CAPTURE(p);
    for (const double effect : {-0.3, 2.0}) {
      const double u = std::abs(effect);
      CHECK(coverage_half_width({part(Shape::rectangular, effect)}, p) == Approx(u * std::sqrt(3.0) * p));
      CHECK(coverage_half_width({part(Shape::triangular, effect)}, p) ==
            Approx(u * std::sqrt(6.0) * (1 - std::sqrt(1 - p))));
      CHECK(coverage_half_width({part(Shape::arcsine, effect)}, p) ==
            Approx(u * std::sqrt(2.0) * std::sin(std::numbers::pi * p / 2)));
    }
  }
  CHECK(coverage_half_width({}, 0.95) == 0);
  CHECK(coverage_half_width({part(Shape::normal, 0)}, 0.95) == 0);
}

TEST_CASE("coverage: Student's quantiles are those of the table", "[metrology]") {
  // student_t_two_sided.csv: JCGM 100:2008 table G.2 recomputed; tolerance 1e-6 as printed.
  const std::string table = test::data_file("measurement/student_t_two_sided.csv");
  const std::vector<double> p{std::erf(1 / std::sqrt(2.0)), 0.90, 0.95,
                              std::erf(2 / std::sqrt(2.0)), 0.99, std::erf(3 / std::sqrt(2.0))};
  int rows = 0;
  for (std::size_t at = table.find('\n') + 1; at < table.size(); ++rows) {
    const std::string line = table.substr(at, table.find('\n', at) - at);
    at += line.size() + 1;
    const double nu = line.starts_with("inf") ? infinite : test::point_number(line);
    std::size_t field = line.find(',') + 1;
    for (const double probability : p) {
      CAPTURE(nu, probability);
      CHECK(metrology::student_two_sided(nu, probability) ==
            Approx(test::point_number(line.substr(field))).margin(1e-6));
      CHECK(coverage_half_width({part(Shape::normal, 2, nu)}, probability) ==
            Approx(2 * test::point_number(line.substr(field))).margin(2e-6));
      field = line.find(',', field) + 1;
    }
  }
  CHECK(rows == 28);
}

TEST_CASE("coverage: four equal parts give the published half-widths", "[metrology]") {
  // JCGM 101:2008 9.2 (examples.json "gum_s1_additive"): Gaussian 3.92, rectangular 3.88; exact values beside.
  const auto computed = example("gum_s1_additive").at("computed");
  const std::vector<Contribution> gaussian(4, part(Shape::normal, 1));
  const std::vector<Contribution> rectangular(4, part(Shape::rectangular, 1));
  CHECK(coverage_half_width(gaussian, 0.95) == Approx(number(computed.at("gaussian_half_width"))).epsilon(1e-9));
  CHECK(coverage_half_width(rectangular, 0.95) ==
        Approx(number(computed.at("rectangular_half_width_exact"))).epsilon(promised));
}

TEST_CASE("coverage: two rectangles give the trapezoid, equal ones the triangle", "[metrology]") {
  // Closed form: half-widths a >= b; beyond a - b the tail is (a + b - x)^2/(8 a b) on each side.
  for (const double b : {1.0, 0.5, 0.1, 0.02}) {
    for (const double p : {0.95, 0.99}) {
      CAPTURE(b, p);
      const double on_slope = 1 + b - std::sqrt(4 * b * (1 - p));
      const double truth = on_slope > 1 - b ? on_slope : p;
      CHECK(coverage_half_width(
                {part(Shape::rectangular, 1 / std::sqrt(3.0)), part(Shape::rectangular, b / std::sqrt(3.0))}, p) ==
            Approx(truth).epsilon(promised));
    }
  }
}

TEST_CASE("coverage: Cauchy errors add their scales", "[metrology]") {
  // One degree of freedom is Cauchy's distribution, which is stable: scales add. The heaviest tail there can be.
  for (const double second : {1.0, 0.3, 0.01}) {
    CHECK(coverage_half_width({part(Shape::normal, 1, 1), part(Shape::normal, second, 1)}, 0.95) ==
          Approx((1 + second) * std::tan(std::numbers::pi * 0.475)).epsilon(promised));
  }
}

TEST_CASE("coverage: pairs of all shapes hold the stated probability by another way of summing", "[metrology]") {
  // Half-widths moved by the promised 0.1 % must enclose the stated probability, to 1e-5 for the 1500 cells of the
  // sum.
  const std::vector<Contribution> shapes{
      part(Shape::normal, 1),    part(Shape::rectangular, 1), part(Shape::triangular, 1), part(Shape::arcsine, 1),
      part(Shape::normal, 1, 1), part(Shape::normal, 1, 2.5), part(Shape::normal, 1, 9),  part(Shape::normal, 1, 63)};
  for (const Contribution& first : shapes) {
    for (const Contribution& second : shapes) {
      for (const double factor : {1.0, 0.1}) {
        for (const double p : {0.95, 0.99}) {
          Contribution scaled = second;
          scaled.effect = factor;
          const double u = coverage_half_width({first, scaled}, p);
          // Averaged over the lighter tails; two heavy ones are held against Cauchy's closed form above.
          const bool first_is_heavy = first.degrees_of_freedom < scaled.degrees_of_freedom;
          const Contribution& over = first_is_heavy ? scaled : first;
          const Contribution& of = first_is_heavy ? first : scaled;
          if (std::isfinite(over.degrees_of_freedom) && over.degrees_of_freedom < 9) continue;
          const double low = probability_within(over, of, u * (1 - promised));
          const double high = probability_within(over, of, u * (1 + promised));
          CAPTURE(int(first.shape), first.degrees_of_freedom, int(scaled.shape), scaled.degrees_of_freedom, factor, p,
                  low, high, u);
          CHECK((low - 1e-5 < p && p < high + 1e-5));
        }
      }
    }
  }
}

TEST_CASE("coverage: the interval of rectangular and normal budgets holds its share of simulated errors",
          "[metrology]") {
  // 20 000 draws for each of four budgets; the share inside scatters by sqrt(0.95 * 0.05/20 000) = 0.15 %: four of
  // these.
  base::Random random(6, "budgets");
  constexpr int draws = 20000;
  const double allowed = 4 * std::sqrt(0.95 * 0.05 / draws);
  for (const double gain : {0.2, 1.0, 3.0, 10.0}) {
    CAPTURE(gain);
    const std::vector<Contribution> budget{part(Shape::rectangular, gain), part(Shape::rectangular, 0.6),
                                           part(Shape::normal, 1), part(Shape::triangular, 0.4)};
    const double half_width = coverage_half_width(budget, 0.95);
    int inside = 0;
    for (int i = 0; i < draws; ++i) {
      const double a = std::sqrt(3.0);
      const double error = random.uniform(-a, a) * gain + random.uniform(-a, a) * 0.6 + random.normal() +
                           (random.uniform(-a, a) + random.uniform(-a, a)) / std::sqrt(2.0) * 0.4;
      inside += std::abs(error) <= half_width;
    }
    CHECK(static_cast<double>(inside) / draws == Approx(0.95).margin(allowed));
  }
}

TEST_CASE("coverage: scaling the budget scales the interval, from microvolts to kilovolts", "[metrology]") {
  std::vector<Contribution> budget{part(Shape::rectangular, 2e-3), part(Shape::normal, 1e-3, 15),
                                   part(Shape::arcsine, 1e-3)};
  const double half_width = coverage_half_width(budget, 0.95);
  for (const double factor : {1e-9, 1e-3, 1e6}) {
    auto scaled = budget;
    for (auto& c : scaled) c.effect *= factor;
    CHECK(coverage_half_width(scaled, 0.95) == Approx(factor * half_width).epsilon(1e-9));
  }
}
