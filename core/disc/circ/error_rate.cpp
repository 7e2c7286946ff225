// SPDX-License-Identifier: Apache-2.0
#include "core/disc/circ/error_rate.hpp"

#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/normal.hpp>
#include <cassert>
#include <cmath>

namespace eyelevel::disc::circ {

namespace {

// Quantile of half a chi-squared variable of 2 `shape` degrees by Wilson and Hilferty (1931), `z` that of the normal.
double half_chi_squared(double shape, double z) {
  const double root = 1 - 1 / (9 * shape) + z / (3 * std::sqrt(shape));
  return shape * root * root * root;
}

}  // namespace

Interval poisson_interval(std::int64_t events, double probability) {
  assert(events >= 0 && probability > 0 && probability < 1);
  using boost::math::chi_squared;
  const double tail = 0.5 * (1 - probability), twice = 2 * static_cast<double>(events);
  // Of that many the exact one is hard to work out, and this one right to a millionth of its width.
  constexpr std::int64_t many = 100'000'000;
  if (events > many) {
    const double z = -boost::math::quantile(boost::math::normal(), tail), n = 0.5 * twice;
    return {half_chi_squared(n, -z), half_chi_squared(n + 1, z)};
  }
  const double low = events == 0 ? 0 : 0.5 * quantile(chi_squared(twice), tail);
  return {low, 0.5 * quantile(complement(chi_squared(twice + 2), tail))};
}

}  // namespace eyelevel::disc::circ
