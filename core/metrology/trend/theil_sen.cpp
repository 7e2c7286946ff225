// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/trend/theil_sen.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <map>
#include <vector>

#include "core/base/error.hpp"
#include "core/metrology/statistics.hpp"

namespace eyelevel::metrology::trend {

namespace {

[[noreturn]] void refuse(std::string message) { throw base::Error(base::ErrorCode::bad_input, std::move(message)); }

std::vector<double> slopes_of(std::span<const double> x, std::span<const double> y) {
  std::vector<double> slopes;
  slopes.reserve(x.size() * (x.size() - 1) / 2);
  for (std::size_t i = 0; i < x.size(); ++i) {
    for (std::size_t j = i + 1; j < x.size(); ++j) {
      if (x[i] != x[j]) slopes.push_back((y[j] - y[i]) / (x[j] - x[i]));
    }
  }
  std::sort(slopes.begin(), slopes.end());
  return slopes;
}

// What groups of equal values take from the variance of Kendall's statistic, times 18.
double tied(std::span<const double> values) {
  std::map<double, double> counts;
  for (const double v : values) counts[v] += 1;
  double sum = 0;
  for (const auto& [value, n] : counts) sum += n * (n - 1) * (2 * n + 5);
  return sum;
}

}  // namespace

RobustLine theil_sen(std::span<const double> x, std::span<const double> y, double probability) {
  if (x.size() != y.size() || x.size() < 3) {
    refuse(fmt::format("{} readings at {} places: expected as many, three or more", y.size(), x.size()));
  }
  if (!(probability > 0 && probability < 1))
    refuse(fmt::format("probability {}, expected between 0 and 1", probability));
  RobustLine line;
  const double x_median = robust_location(x).median;
  const double y_median = robust_location(y).median;
  const std::vector<double> slopes = slopes_of(x, y);
  if (slopes.empty()) refuse("all readings at one place: no line can be drawn");
  line.slope = robust_location(slopes).median;
  line.intercept = y_median - line.slope * x_median;
  const double n = static_cast<double>(x.size());
  const double variance = (n * (n - 1) * (2 * n + 5) - tied(x) - tied(y)) / 18;
  const double away = boost::math::quantile(boost::math::normal(), (1 + probability) / 2) * std::sqrt(variance);
  const double pairs = static_cast<double>(slopes.size());
  // Ranks (pairs -+ away)/2, the upper one plus 1, counted from 1; rounded, and kept inside the slopes there are.
  const double low = std::clamp(std::round((pairs - away) / 2) - 1, 0.0, pairs - 1);
  const double high = std::clamp(std::round((pairs + away) / 2), 0.0, pairs - 1);
  line.slope_range = {slopes[static_cast<std::size_t>(low)], slopes[static_cast<std::size_t>(high)]};
  return line;
}

}  // namespace eyelevel::metrology::trend
