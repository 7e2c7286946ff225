// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/statistics.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/base/error.hpp"

namespace eyelevel::metrology {

namespace {

[[noreturn]] void refuse(std::string message) { throw base::Error(base::ErrorCode::bad_input, std::move(message)); }

void require_finite(std::span<const double> values) {
  if (values.empty()) refuse("statistics of no values: at least one is needed");
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (!std::isfinite(values[i]))
      refuse(fmt::format("value {} of {} is {}, not a number", i, values.size(), values[i]));
  }
}

// The second pass corrects what rounding left of the first, so that data near 1e7 with s of 0.1 keep their digits.
double mean_of(std::span<const double> values) {
  const double n = static_cast<double>(values.size());
  double sum = 0;
  for (const double v : values) sum += v;
  const double first = sum / n;
  double rest = 0;
  for (const double v : values) rest += v - first;
  return first + rest / n;
}

// Sum of squares about the mean; the last term takes away what the rounding of the mean itself adds.
double squares_about(std::span<const double> values, double mean) {
  double squares = 0;
  double rest = 0;
  for (const double v : values) {
    squares += (v - mean) * (v - mean);
    rest += v - mean;
  }
  return std::max(0.0, squares - rest * rest / static_cast<double>(values.size()));
}

double correlation_at(std::span<const double> values, std::size_t lag, double mean, double squares) {
  if (squares == 0) return 0;
  double products = 0;
  for (std::size_t i = 0; i + lag < values.size(); ++i) products += (values[i] - mean) * (values[i + lag] - mean);
  return products / squares;
}

std::vector<double> sorted_copy(std::span<const double> values) {
  std::vector<double> sorted(values.begin(), values.end());
  std::sort(sorted.begin(), sorted.end());
  return sorted;
}

double median_of_sorted(std::span<const double> sorted) {
  const std::size_t n = sorted.size();
  return n % 2 == 1 ? sorted[n / 2] : (sorted[n / 2 - 1] + sorted[n / 2]) / 2;
}

}  // namespace

Statistics statistics(std::span<const double> values) {
  require_finite(values);
  const double mean = mean_of(values);
  Statistics result{values.size(), mean, 0};
  if (values.size() > 1) {
    result.sd = std::sqrt(squares_about(values, mean) / static_cast<double>(values.size() - 1));
  }
  return result;
}

double autocorrelation(std::span<const double> values, std::size_t lag) {
  require_finite(values);
  if (lag >= values.size())
    refuse(fmt::format("autocorrelation at lag {} of {} values: too few values", lag, values.size()));
  const double mean = mean_of(values);
  return correlation_at(values, lag, mean, squares_about(values, mean));
}

double effective_count(std::span<const double> values) {
  require_finite(values);
  const double n = static_cast<double>(values.size());
  const double mean = mean_of(values);
  const double squares = squares_about(values, mean);
  const double noise = 1 / std::sqrt(n);
  double sum = 0;
  double first_order = n;
  for (std::size_t lag = 1; lag < values.size(); ++lag) {
    const double r = correlation_at(values, lag, mean, squares);
    if (r <= noise) break;
    if (lag == 1) first_order = n * (1 - r) / (1 + r);
    sum += (1 - static_cast<double>(lag) / n) * r;
  }
  return std::clamp(std::min(first_order, n / (1 + 2 * sum)), 1.0, n);
}

double effective_count_first_order(std::size_t count, double lag_one_correlation) {
  if (count == 0) refuse("effective count of no values: at least one is needed");
  if (!(std::abs(lag_one_correlation) < 1)) {
    refuse(fmt::format("lag-one correlation is {}, expected between -1 and 1", lag_one_correlation));
  }
  const double n = static_cast<double>(count);
  return std::clamp(n * (1 - lag_one_correlation) / (1 + lag_one_correlation), 1.0, n);
}

double von_neumann_ratio(std::span<const double> values) {
  require_finite(values);
  if (values.size() < 2) refuse("von Neumann ratio of one value: at least two are needed");
  const double squares = squares_about(values, mean_of(values));
  if (squares == 0) return 2;
  double steps = 0;
  for (std::size_t i = 1; i < values.size(); ++i) steps += (values[i] - values[i - 1]) * (values[i] - values[i - 1]);
  return steps / squares;
}

double allan_deviation(std::span<const double> values, std::size_t m) {
  require_finite(values);
  if (m == 0 || values.size() < 2 * m) {
    refuse(fmt::format("Allan deviation over means of {} values: {} values are too few", m, values.size()));
  }
  const double mean = mean_of(values);
  std::vector<double> running{0};
  running.reserve(values.size() + 1);
  for (const double v : values) running.push_back(running.back() + (v - mean));
  const std::size_t count = running.size() - 2 * m;
  double sum = 0;
  for (std::size_t i = 0; i < count; ++i) {
    const double d = running[i + 2 * m] - 2 * running[i + m] + running[i];
    sum += d * d;
  }
  const double width = static_cast<double>(m);
  return std::sqrt(sum / (2 * width * width * static_cast<double>(count)));
}

RobustLocation robust_location(std::span<const double> values) {
  require_finite(values);
  std::vector<double> sorted = sorted_copy(values);
  RobustLocation result;
  result.median = median_of_sorted(sorted);
  for (double& v : sorted) v = std::abs(v - result.median);
  std::sort(sorted.begin(), sorted.end());
  result.mad = median_of_sorted(sorted);
  constexpr double normal_sd_per_mad = 1.482602218505602;  // 1 / (upper quartile of the standard normal)
  result.mad_scaled = normal_sd_per_mad * result.mad;
  return result;
}

TrimmedMean trimmed_mean(std::span<const double> values, std::size_t each_side) {
  require_finite(values);
  const std::size_t n = values.size();
  if (2 * each_side >= n) refuse(fmt::format("trimming {} values at each side of {} leaves none", each_side, n));
  std::vector<double> sorted = sorted_copy(values);
  TrimmedMean result;
  result.mean = mean_of(std::span(sorted).subspan(each_side, n - 2 * each_side));
  const double low = sorted[each_side];
  const double high = sorted[n - 1 - each_side];
  for (double& v : sorted) v = std::clamp(v, low, high);
  const double kept_share = 1 - 2 * static_cast<double>(each_side) / static_cast<double>(n);
  result.standard_error = statistics(sorted).sd / (kept_share * std::sqrt(static_cast<double>(n)));
  return result;
}

double quantile_of_sorted(std::span<const double> sorted, double p) {
  if (sorted.empty()) refuse("quantile of no values: at least one is needed");
  if (!(p >= 0 && p <= 1)) refuse(fmt::format("quantile at {}, expected 0 to 1", p));
  const double place = p * static_cast<double>(sorted.size() - 1);
  const auto below = std::min(static_cast<std::size_t>(place), sorted.size() - 1);
  const std::size_t above = std::min(below + 1, sorted.size() - 1);
  return sorted[below] + (place - static_cast<double>(below)) * (sorted[above] - sorted[below]);
}

}  // namespace eyelevel::metrology
