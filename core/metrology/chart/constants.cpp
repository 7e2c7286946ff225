// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/chart/constants.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <boost/math/special_functions/gamma.hpp>
#include <cmath>
#include <numbers>

#include "core/base/error.hpp"

namespace eyelevel::metrology::chart {

namespace {

// Not Boost's, which is ten times slower and asked some ten thousand times.
double below(double x) { return std::erfc(-x / std::numbers::sqrt2) / 2; }
double density(double x) { return std::exp(-x * x / 2) / std::sqrt(2 * std::numbers::pi); }

// P(range of n values > r): 1 - n integral of phi(x) (Phi(x + r) - Phi(x))^(n - 1). The integrand is smooth and dies
// away at both ends, so that equal steps are exact.
double range_beyond(double r, double n) {
  constexpr double step = 0.1;
  constexpr double far = 9;
  const int steps = static_cast<int>((2 * far + r) / step);
  double sum = 0;
  for (int i = 0; i <= steps; ++i) {
    const double x = -far - r + i * step;
    const double within = below(x + r) - below(x);
    sum += density(x) * std::pow(within, n - 1);
  }
  return 1 - n * step * sum;
}

struct RangeMoments {
  double mean = 0, mean_square = 0;
};

// Integrals of P(range > r) and of 2 r P(range > r), in panels; no range of 100 values lies beyond 16 sigma.
RangeMoments range_moments(double n) {
  using Rule = boost::math::quadrature::gauss<double, 20>;
  constexpr int panels = 4;
  constexpr double half = 2;
  RangeMoments result;
  for (int panel = 0; panel < panels; ++panel) {
    for (std::size_t i = 0; i < Rule::abscissa().size(); ++i) {
      for (const double side : {-1.0, 1.0}) {
        const double r = half * (2 * panel + 1 + side * Rule::abscissa()[i]);
        const double beyond = half * Rule::weights()[i] * range_beyond(r, n);
        result.mean += beyond;
        result.mean_square += 2 * r * beyond;
      }
    }
  }
  return result;
}

}  // namespace

Constants constants_for(std::size_t count) {
  if (count < 2 || count > 100) {
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("control chart of samples of {}: expected 2 to 100 values", count));
  }
  const double n = static_cast<double>(count);
  Constants c;
  const RangeMoments range = range_moments(n);
  c.d2 = range.mean;
  c.d3 = std::sqrt(range.mean_square - range.mean * range.mean);
  c.c4 = std::sqrt(2 / (n - 1)) * boost::math::tgamma_ratio(n / 2, (n - 1) / 2);
  c.mean_by_range = 3 / (c.d2 * std::sqrt(n));
  c.mean_by_sd = 3 / (c.c4 * std::sqrt(n));
  const double range_part = 3 * c.d3 / c.d2;
  c.range_low = std::max(0.0, 1 - range_part);
  c.range_high = 1 + range_part;
  const double sd_part = 3 * std::sqrt(1 - c.c4 * c.c4) / c.c4;
  c.sd_low = std::max(0.0, 1 - sd_part);
  c.sd_high = 1 + sd_part;
  return c;
}

}  // namespace eyelevel::metrology::chart
