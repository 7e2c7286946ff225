// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/observations.hpp"

#include <fmt/format.h>

#include <cmath>

#include "core/base/error.hpp"
#include "core/metrology/statistics.hpp"

namespace eyelevel::metrology {

namespace {

[[noreturn]] void refuse(std::string message) { throw base::Error(base::ErrorCode::bad_input, std::move(message)); }

MeanOfObservations mean_with(const Statistics& statistics, double effective_count) {
  MeanOfObservations result;
  result.value = statistics.mean;
  result.sd = statistics.sd;
  result.count = statistics.count;
  result.effective_count = effective_count;
  result.standard_uncertainty = statistics.sd / std::sqrt(effective_count);
  result.degrees_of_freedom = std::max(1.0, effective_count - 1);
  return result;
}

void require_two(std::span<const double> observations) {
  if (observations.size() < 2) {
    refuse(fmt::format("{} observation: two or more are needed to know how far they scatter", observations.size()));
  }
}

double slope_per_value(std::span<const double> values, double mean) {
  const double middle = static_cast<double>(values.size() - 1) / 2;
  double products = 0;
  double squares = 0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const double x = static_cast<double>(i) - middle;
    products += x * (values[i] - mean);
    squares += x * x;
  }
  return products / squares;
}

}  // namespace

Contribution MeanOfObservations::contribution(std::string source, double sensitivity) const {
  return {std::move(source), 'A', Shape::normal, sensitivity * standard_uncertainty, degrees_of_freedom};
}

MeanOfObservations mean_of_observations(std::span<const double> in_order) {
  require_two(in_order);
  return mean_with(statistics(in_order), effective_count(in_order));
}

MeanOfObservations mean_of_independent(std::span<const double> observations) {
  require_two(observations);
  return mean_with(statistics(observations), static_cast<double>(observations.size()));
}

Settled settled(std::span<const double> last_values, const SettledOptions& options) {
  if (last_values.size() < least_for_settled) {
    refuse(fmt::format("{} values to see whether they settled, expected {} or more", last_values.size(),
                       least_for_settled));
  }
  if (!(options.limit_width > 0) || !(options.allowed_drift_share > 0)) {
    refuse(fmt::format("settled within {} of a limit {} wide: expected both above 0", options.allowed_drift_share,
                       options.limit_width));
  }
  constexpr double twice_normal_95 = 2 * 1.6448536269514722;
  const double m = static_cast<double>(last_values.size());
  Settled result;
  result.drift = slope_per_value(last_values, statistics(last_values).mean) * (m - 1);
  result.allowed_drift = options.allowed_drift_share * options.limit_width;
  result.von_neumann_ratio = von_neumann_ratio(last_values);
  result.least_ratio = 2 - twice_normal_95 * std::sqrt((m - 2) / (m * m - 1));
  if (!(std::abs(result.drift) < result.allowed_drift)) {
    result.because = fmt::format("drifts by {:.3g} over {} values, {:.3g} allowed", result.drift, last_values.size(),
                                 result.allowed_drift);
  } else if (!(result.von_neumann_ratio > result.least_ratio)) {
    result.because =
        fmt::format("successive values resemble each other (von Neumann ratio {:.2f}, {:.2f} is the least)",
                    result.von_neumann_ratio, result.least_ratio);
  }
  result.is_settled = result.because.empty();
  return result;
}

}  // namespace eyelevel::metrology
