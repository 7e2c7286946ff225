// SPDX-License-Identifier: Apache-2.0
#include "core/disc/circ/error_rate.hpp"

#include <boost/math/distributions/chi_squared.hpp>
#include <cassert>

namespace eyelevel::disc::circ {

Interval poisson_interval(std::int64_t events, double probability) {
  assert(events >= 0 && probability > 0 && probability < 1);
  using boost::math::chi_squared;
  const double tail = 0.5 * (1 - probability), twice = 2 * static_cast<double>(events);
  const double low = events == 0 ? 0 : 0.5 * quantile(chi_squared(twice), tail);
  return {low, 0.5 * quantile(complement(chi_squared(twice + 2), tail))};
}

}  // namespace eyelevel::disc::circ
