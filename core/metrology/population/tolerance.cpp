// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/population/tolerance.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/non_central_t.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/quadrature/gauss.hpp>
#include <boost/math/special_functions/gamma.hpp>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <vector>

#include "core/base/error.hpp"

namespace eyelevel::metrology::population {

namespace {

const boost::math::normal standard_normal;

void require_usable(std::size_t count, const Stated& stated) {
  if (count >= 2 && stated.share > 0 && stated.share < 1 && stated.confidence > 0 && stated.confidence < 1) return;
  throw base::Error(base::ErrorCode::bad_input,
                    fmt::format("tolerance limits from {} values for a share of {} with confidence {}: expected two "
                                "values or more, share and confidence between 0 and 1",
                                count, stated.share, stated.confidence));
}

// Half-width, in true standard deviations, that holds `share` when the middle is off by `offset` of them: Newton's
// steps on Phi(offset + r) - Phi(offset - r), which is concave in r and so converges from the small side.
double half_width_about(double offset, double share) {
  double r = offset + boost::math::quantile(standard_normal, share);  // one tail alone: r that is not too small
  r = std::max(r, boost::math::quantile(standard_normal, (1 + share) / 2));
  for (int i = 0; i < 50; ++i) {
    const double held = boost::math::cdf(standard_normal, offset + r) - boost::math::cdf(standard_normal, offset - r);
    const double slope = boost::math::pdf(standard_normal, offset + r) + boost::math::pdf(standard_normal, offset - r);
    const double step = (share - held) / slope;
    r += step;
    if (std::abs(step) < 1e-13 * r) break;
  }
  return r;
}

// P(mean +- k s holds the share) = integral over the mean's error of P(k s >= half-width about it).
class Confidence {
 public:
  Confidence(std::size_t count, double share) : degrees_of_freedom_(static_cast<double>(count) - 1) {
    constexpr double far = 8.5;  // standard deviations of the mean; beyond lies 1e-17
    const double root_count = std::sqrt(static_cast<double>(count));
    // Both halves are equal, so only positive errors are summed, in panels short enough for nine digits.
    for (std::size_t panel = 0; panel < panels; ++panel) {
      const double middle = far * (static_cast<double>(panel) + 0.5) / panels;
      for (std::size_t i = 0; i < Rule::abscissa().size(); ++i) {
        for (const double side : {-1.0, 1.0}) {
          const double x = middle + side * Rule::abscissa()[i] * far / (2 * panels);
          const double weight = 2 * Rule::weights()[i] * far / (2 * panels) * boost::math::pdf(standard_normal, x);
          nodes_.push_back({half_width_about(x / root_count, share), weight});
        }
      }
    }
  }

  double of(double factor) const {
    double sum = 0;
    for (const Node& node : nodes_) {
      const double ratio = node.half_width / factor;
      sum += node.weight * boost::math::gamma_q(degrees_of_freedom_ / 2, degrees_of_freedom_ * ratio * ratio / 2);
    }
    return sum;
  }

 private:
  using Rule = boost::math::quadrature::gauss<double, 10>;  // even: no node in the middle
  static constexpr std::size_t panels = 8;
  struct Node {
    double half_width, weight;
  };
  double degrees_of_freedom_;
  std::vector<Node> nodes_;
};

}  // namespace

double tolerance_factor_two_sided(std::size_t count, const Stated& stated) {
  require_usable(count, stated);
  const double n = static_cast<double>(count);
  // The usual approximation (e-Handbook 7.2.6.3) is the start; the truth lies within a quarter of it.
  const double start =
      boost::math::quantile(standard_normal, (1 + stated.share) / 2) *
      std::sqrt((n - 1) * (1 + 1 / n) / boost::math::quantile(boost::math::chi_squared(n - 1), 1 - stated.confidence));
  const Confidence confidence(count, stated.share);
  const auto lacking = [&](double factor) { return confidence.of(factor) - stated.confidence; };
  std::uintmax_t steps = 100;
  const auto [low, high] = boost::math::tools::bracket_and_solve_root(
      lacking, start, 1.2, true, boost::math::tools::eps_tolerance<double>(40), steps);
  return (low + high) / 2;
}

double tolerance_factor_one_sided(std::size_t count, const Stated& stated) {
  require_usable(count, stated);
  const double root = std::sqrt(static_cast<double>(count));
  const double shift = boost::math::quantile(standard_normal, stated.share) * root;
  const boost::math::non_central_t distribution(static_cast<double>(count) - 1, shift);
  return boost::math::quantile(distribution, stated.confidence) / root;
}

double tolerance_confidence(std::size_t count, double share, double factor) {
  require_usable(count, {share, 0.5});
  if (!(factor > 0) || !std::isfinite(factor)) {
    throw base::Error(base::ErrorCode::bad_input, fmt::format("factor of s is {}, expected above 0", factor));
  }
  return Confidence(count, share).of(factor);
}

}  // namespace eyelevel::metrology::population
