// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/coverage.hpp"

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/quadrature/gauss.hpp>
#include <boost/math/special_functions/bessel.hpp>
#include <cmath>
#include <numbers>

namespace eyelevel::metrology {

namespace {

using std::numbers::pi;

// Beyond this Student's and the normal quantile differ by less than 2e-5.
constexpr double as_good_as_infinite = 1e5;

// Half-width of the support of a bounded shape with unit standard deviation.
double reach_of(Shape shape) {
  switch (shape) {
    case Shape::rectangular: return std::sqrt(3.0);
    case Shape::triangular: return std::sqrt(6.0);
    case Shape::arcsine: return std::sqrt(2.0);
    case Shape::normal: break;
  }
  return std::numeric_limits<double>::infinity();
}

// The exact half-width for one shape alone, per unit of its effect.
double alone(const Contribution& c, double p) {
  switch (c.shape) {
    case Shape::rectangular: return reach_of(c.shape) * p;
    case Shape::triangular: return reach_of(c.shape) * (1 - std::sqrt(1 - p));
    case Shape::arcsine: return reach_of(c.shape) * std::sin(pi / 2 * p);
    case Shape::normal: break;
  }
  return student_two_sided(c.degrees_of_freedom, p);
}

// Student's distribution is a normal one whose variance is 1/g, g gamma-distributed with mean 1 and shape nu/2. Over
// s = ln g the trapezoidal rule converges exponentially, so a few terms give the characteristic function
// sum weight exp(-x^2 half_variance) without Bessel functions and their overflows.
class StudentFunction {
 public:
  StudentFunction(double effect, double degrees_of_freedom) {
    const double half = degrees_of_freedom / 2;
    const double width = 1 / std::sqrt(half);  // of ln g, near its mean
    const double step = std::min(0.55, 0.9 * width);
    constexpr double negligible = -21;  // ln of 1e-9
    double sum = 0;
    const auto add = [&](double s) {
      const double exponent = half * (s - std::expm1(s));
      if (exponent < negligible) return false;
      terms_.push_back({std::exp(exponent), effect * effect * std::exp(-s) / 2});
      sum += terms_.back().weight;
      return true;
    };
    for (double s = 0; add(s); s += step) {
    }
    for (double s = -step; add(s); s -= step) {
    }
    for (Term& term : terms_) term.weight /= sum;
  }

  double operator()(double x_squared) const {
    double sum = 0;
    for (const Term& term : terms_) sum += term.weight * std::exp(-x_squared * term.half_variance);
    return sum;
  }

 private:
  struct Term {
    double weight = 0;
    double half_variance = 0;
  };
  std::vector<Term> terms_;
};

// The sum of the errors, in units of its standard uncertainty.
class Sum {
 public:
  Sum(const std::vector<Contribution>& parts, double unit, double probability) : probability_(probability) {
    double normal_square = 0;
    double likely_square = 0;
    for (const Contribution& part : parts) {
      const double effect = std::abs(part.effect) / unit;
      const double own = effect * alone(part, probability);
      likely_square += own * own;
      if (part.shape != Shape::normal) {
        bounded_.push_back({part.shape, effect * reach_of(part.shape)});
        reach_ += bounded_.back().half_width;
        continue;
      }
      only_bounded_ = false;
      if (part.degrees_of_freedom > as_good_as_infinite) {
        normal_square += effect * effect;
      } else {
        student_.emplace_back(effect, part.degrees_of_freedom);
        heavy_tails_ = true;
      }
    }
    guess_ = std::sqrt(likely_square);
    sample(normal_square);
  }

  double half_width() const {
    double low = 0;
    double high = only_bounded_ ? reach_ : 4 * guess_ + reach_;
    double at = std::min(guess_, 0.99 * high);
    for (int round = 0; round < 60; ++round) {
      const auto [inside, density] = within(at);
      const double excess = inside - probability_;
      (excess > 0 ? high : low) = at;
      double next = density > 0 ? at - excess / density : low - 1;
      if (!(next > low && next < high)) next = (low + high) / 2;
      if (std::abs(next - at) < 1e-4 * at) return next;  // the next step would be of this one's square
      at = next;
    }
    return at;
  }

 private:
  struct Bounded {
    Shape shape;
    double half_width;
  };
  struct Node {
    double t = 0;
    double weight = 0;  // of the quadrature, times the characteristic function
  };

  static double function_of(const Bounded& part, double t) {
    const double x = part.half_width * t;
    switch (part.shape) {
      case Shape::rectangular: return x < 1e-4 ? 1 - x * x / 6 : std::sin(x) / x;
      case Shape::triangular: {
        const double half = x < 1e-4 ? 1 - x * x / 24 : std::sin(x / 2) / (x / 2);
        return half * half;
      }
      default: return boost::math::cyl_bessel_j(0, x);
    }
  }

  // What |function_of| stays below, without its zeros.
  static double bound_of(const Bounded& part, double t) {
    const double x = part.half_width * t;
    switch (part.shape) {
      case Shape::rectangular: return std::min(1.0, 1 / x);
      case Shape::triangular: return std::min(1.0, 4 / (x * x));
      default: return std::min(1.0, std::sqrt(2 / (pi * x)));
    }
  }

  double smooth_part(double t) const {
    double value = std::exp(-t * t * normal_square_ / 2);
    for (const StudentFunction& student : student_) value *= student(t * t);
    return value;
  }

  bool is_over_at(double t) const {
    constexpr double negligible = 1e-5;
    double bound = smooth_part(t) / t;
    for (const Bounded& part : bounded_) bound *= bound_of(part, t);
    return bound < negligible;
  }

  // Gauss-Legendre panels: short ones near 0, where heavy tails make the function sharp, then as long as the fastest
  // oscillation allows.
  void sample(double normal_square) {
    // A bounded sum ends slowly in t. So little normal error that it moves no quantile by 0.1 % ends it.
    constexpr double least_normal = 0.006;
    normal_square_ = std::max(normal_square, least_normal * least_normal);
    using Rule = boost::math::quadrature::gauss<double, 15>;
    constexpr double phase_per_panel = 26;  // 15 nodes integrate cos(13 x) over [-1, 1] to 1e-6
    const double longest = phase_per_panel / (1.3 * guess_ + reach_ + 2);
    double from = 0;
    double length = heavy_tails_ ? longest / 64 : longest;
    while (true) {
      const double middle = from + length / 2;
      for (std::size_t i = 0; i < Rule::abscissa().size(); ++i) {
        const double offset = Rule::abscissa()[i] * length / 2;
        add_node(middle + offset, Rule::weights()[i] * length / 2);
        if (offset != 0) add_node(middle - offset, Rule::weights()[i] * length / 2);
      }
      from += length;
      if (is_over_at(from)) break;
      length = std::min(2 * length, longest);
    }
  }

  void add_node(double t, double weight) {
    double value = smooth_part(t);
    for (const Bounded& part : bounded_) value *= function_of(part, t);
    nodes_.push_back({t, weight * value});
  }

  // P(|S| <= u) = 2/pi integral of sin(u t)/t phi(t) dt, and its derivative (twice the density).
  std::pair<double, double> within(double u) const {
    double inside = 0;
    double density = 0;
    for (const Node& node : nodes_) {
      inside += node.weight * std::sin(u * node.t) / node.t;
      density += node.weight * std::cos(u * node.t);
    }
    return {2 / pi * inside, 2 / pi * density};
  }

  double probability_;
  double guess_ = 0;  // likely half-width
  double reach_ = 0;  // half-width of the support of the bounded part
  bool only_bounded_ = true;
  bool heavy_tails_ = false;
  double normal_square_ = 0;
  std::vector<Bounded> bounded_;
  std::vector<StudentFunction> student_;
  std::vector<Node> nodes_;
};

}  // namespace

double student_two_sided(double degrees_of_freedom, double probability) {
  const double tail = (1 - probability) / 2;
  if (degrees_of_freedom > as_good_as_infinite) {
    return boost::math::quantile(boost::math::complement(boost::math::normal(), tail));
  }
  return boost::math::quantile(boost::math::complement(boost::math::students_t(degrees_of_freedom), tail));
}

double coverage_half_width(const std::vector<Contribution>& independent, double probability) {
  double squares = 0;
  for (const Contribution& c : independent) squares += c.effect * c.effect;
  if (squares == 0) return 0;
  const double unit = std::sqrt(squares);
  // What is below a 20 000th of the whole in square only widens the sum by its variance; normal stands for its shape.
  constexpr double negligible = 5e-5;
  std::vector<Contribution> parts;
  double normal_square = 0;
  for (const Contribution& c : independent) {
    const bool is_normal = c.shape == Shape::normal && c.degrees_of_freedom > as_good_as_infinite;
    const bool is_small = c.effect * c.effect < negligible * squares && c.degrees_of_freedom >= 5;
    if (is_normal || is_small) {
      normal_square += c.effect * c.effect;
    } else {
      parts.push_back(c);
    }
  }
  if (normal_square > 0) parts.push_back({"", 'B', Shape::normal, std::sqrt(normal_square)});
  if (parts.size() == 1) return std::abs(parts[0].effect) * alone(parts[0], probability);
  return unit * Sum(parts, unit, probability).half_width();
}

}  // namespace eyelevel::metrology
