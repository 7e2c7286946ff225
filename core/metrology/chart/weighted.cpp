// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/chart/weighted.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/base/error.hpp"

namespace eyelevel::metrology::chart {

namespace {

[[noreturn]] void refuse(std::string message) { throw base::Error(base::ErrorCode::bad_input, std::move(message)); }

void require_finite(std::span<const double> points) {
  const auto bad = std::find_if_not(points.begin(), points.end(), [](double v) { return std::isfinite(v); });
  if (bad != points.end()) refuse(fmt::format("point {} of the chart is {}, not a number", bad - points.begin(), *bad));
}

}  // namespace

WeightedAverage weighted_average(std::span<const double> points, const WeightedAverageOptions& options) {
  require_finite(points);
  const double weight = options.weight;
  if (!std::isfinite(options.target) || !(options.sigma > 0) || !(weight > 0 && weight <= 1) || !(options.width > 0)) {
    refuse(
        fmt::format("weighted average about {} with sigma {}, weight {}, width {}: expected a number, sigma and "
                    "width above 0, weight above 0 and not above 1",
                    options.target, options.sigma, weight, options.width));
  }
  WeightedAverage result;
  double average = options.target;
  double forgotten = 1;  // (1 - weight)^(2 i)
  for (std::size_t i = 0; i < points.size(); ++i) {
    average = weight * points[i] + (1 - weight) * average;
    forgotten *= (1 - weight) * (1 - weight);
    result.average.push_back(average);
    result.half_width.push_back(options.width * options.sigma * std::sqrt(weight / (2 - weight) * (1 - forgotten)));
    if (std::abs(average - options.target) > result.half_width.back()) result.beyond.push_back(i);
  }
  return result;
}

CumulativeSum cumulative_sum(std::span<const double> points, const CumulativeSumOptions& options) {
  require_finite(points);
  if (!std::isfinite(options.target) || !(options.allowance >= 0) || !(options.decision > 0)) {
    refuse(fmt::format("cumulative sum about {} with k {} and h {}: expected a number, 0 or more, and above 0",
                       options.target, options.allowance, options.decision));
  }
  CumulativeSum result;
  double high = 0;
  double low = 0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const double deviation = points[i] - options.target;
    high = std::max(0.0, high + deviation - options.allowance);
    low = std::max(0.0, low - deviation - options.allowance);
    result.high.push_back(high);
    result.low.push_back(low);
    if (std::max(high, low) > options.decision) result.beyond.push_back(i);
  }
  return result;
}

}  // namespace eyelevel::metrology::chart
