// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/outliers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "core/base/error.hpp"
#include "core/metrology/coverage.hpp"
#include "core/metrology/statistics.hpp"

namespace eyelevel::metrology {

namespace {

// Of the largest distance among `left` values, t taken at alpha/(2 n) on each side, or at alpha/n on one.
double critical_value(std::size_t left, double alpha, double sides) {
  const double n = static_cast<double>(left);
  const double t = student_two_sided(n - 2, 1 - 2 * alpha / (sides * n));
  return (n - 1) * t / std::sqrt((n - 2 + t * t) * n);
}

}  // namespace

Outliers extreme_deviates(std::span<const double> values, std::size_t most, double alpha) {
  if (most == 0 || values.size() < most + 2 || !(alpha > 0 && alpha < 1)) {
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("up to {} outliers of {} values at significance {}: expected one or more, two values "
                                  "more than that, and a significance between 0 and 1",
                                  most, values.size(), alpha));
  }
  std::vector<double> left(values.begin(), values.end());
  std::vector<std::size_t> place(values.size());
  std::iota(place.begin(), place.end(), std::size_t{0});
  Outliers result;
  std::size_t count = 0;
  for (std::size_t i = 1; i <= most; ++i) {
    const Statistics s = statistics(left);
    if (s.sd == 0) break;  // what is left is all equal
    const auto farther = [&](double a, double b) { return std::abs(a - s.mean) < std::abs(b - s.mean); };
    const auto farthest = std::max_element(left.begin(), left.end(), farther);
    result.statistic.push_back(std::abs(*farthest - s.mean) / s.sd);
    result.critical.push_back(critical_value(left.size(), alpha, 2));
    if (result.statistic.back() > result.critical.back()) count = i;
    const auto at = farthest - left.begin();
    result.places.push_back(place[static_cast<std::size_t>(at)]);
    left.erase(farthest);
    place.erase(place.begin() + at);
  }
  result.places.resize(count);
  return result;
}

Grubbs grubbs_one_sided(std::span<const double> values, Tail tail, double alpha) {
  if (values.size() < 3 || !(alpha > 0 && alpha < 1)) {
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("one outlier of {} values at significance {}: expected three values or more, and a "
                                  "significance between 0 and 1",
                                  values.size(), alpha));
  }
  const Statistics s = statistics(values);
  const auto [smallest, largest] = std::minmax_element(values.begin(), values.end());
  const auto tested = tail == Tail::upper ? largest : smallest;
  Grubbs result;
  result.place = static_cast<std::size_t>(tested - values.begin());
  result.statistic = s.sd > 0 ? std::abs(*tested - s.mean) / s.sd : 0;
  result.critical = critical_value(values.size(), alpha, 1);
  result.is_outlier = result.statistic > result.critical;
  return result;
}

}  // namespace eyelevel::metrology
