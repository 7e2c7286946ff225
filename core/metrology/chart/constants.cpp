// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/chart/constants.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/quadrature/gauss.hpp>
#include <boost/math/special_functions/gamma.hpp>
#include <cmath>

#include "core/base/error.hpp"

namespace eyelevel::metrology::chart {

namespace {

const boost::math::normal standard_normal;

// P(range of n values > r): 1 - n integral of phi(x) (Phi(x + r) - Phi(x))^(n - 1). The integrand is smooth and dies
// away at both ends, so that equal steps are exact.
double range_beyond(double r, double n) {
  constexpr double step = 0.1;
  constexpr double far = 9;
  const int steps = static_cast<int>((2 * far + r) / step);
  double sum = 0;
  for (int i = 0; i <= steps; ++i) {
    const double x = -far - r + i * step;
    const double within = boost::math::cdf(standard_normal, x + r) - boost::math::cdf(standard_normal, x);
    sum += boost::math::pdf(standard_normal, x) * std::pow(within, n - 1);
  }
  return 1 - n * step * sum;
}

// Integral of weight(r) P(range > r) over all r, in panels; no range of 100 values lies beyond 16 sigma.
template <typename Weight>
double over_range(double n, Weight weight) {
  constexpr int panels = 4;
  constexpr double width = 4;
  double sum = 0;
  for (int i = 0; i < panels; ++i) {
    sum += boost::math::quadrature::gauss<double, 20>::integrate(
        [&](double r) { return weight(r) * range_beyond(r, n); }, i * width, (i + 1) * width);
  }
  return sum;
}

}  // namespace

Constants constants_for(std::size_t count) {
  if (count < 2 || count > 100) {
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("control chart of samples of {}: expected 2 to 100 values", count));
  }
  const double n = static_cast<double>(count);
  Constants c;
  c.d2 = over_range(n, [](double) { return 1.0; });
  c.d3 = std::sqrt(over_range(n, [](double r) { return 2 * r; }) - c.d2 * c.d2);
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
