// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/trend/line.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "core/base/error.hpp"
#include "core/metrology/coverage.hpp"
#include "core/metrology/statistics.hpp"
#include "core/metrology/trend/regression.hpp"

namespace eyelevel::metrology::trend {

namespace {

[[noreturn]] void refuse(std::string message) { throw base::Error(base::ErrorCode::bad_input, std::move(message)); }

double share_beside_mean(Speaks speaks) { return speaks == Speaks::of_next_reading ? 1 : 0; }

double t_squared_of(const Line& line, double probability) {
  const double t = student_two_sided(line.degrees_of_freedom, probability);
  return t * t;
}

}  // namespace

Line fit_line(std::span<const double> x, std::span<const double> y) {
  const Fit fit = fit_polynomial(x, y, 1);
  const Statistics s = statistics(x);
  const auto [least, most] = std::minmax_element(x.begin(), x.end());
  Line line;
  line.intercept = fit.coefficients[0];
  line.slope = fit.coefficients[1];
  line.u_intercept = fit.standard_errors[0];
  line.u_slope = fit.standard_errors[1];
  line.covariance = fit.covariance[1];
  line.residual_sd = fit.residual_sd;
  line.degrees_of_freedom = fit.variance.residual_degrees;
  line.count = x.size();
  line.x_mean = s.mean;
  line.x_squares = s.sd * s.sd * static_cast<double>(s.count - 1);
  line.x_least = *least;
  line.x_most = *most;
  return line;
}

double standard_error_at(const Line& line, double x, Speaks speaks) {
  const double away = x - line.x_mean;
  return line.residual_sd *
         std::sqrt(share_beside_mean(speaks) + 1 / static_cast<double>(line.count) + away * away / line.x_squares);
}

Range band_at(const Line& line, double x, Speaks speaks, double probability) {
  const double half = student_two_sided(line.degrees_of_freedom, probability) * standard_error_at(line, x, speaks);
  return {line.at(x) - half, line.at(x) + half};
}

double slope_doubt(const Line& line, double probability) {
  const double t2 = t_squared_of(line, probability);
  const double explained = line.slope * line.slope * line.x_squares;
  // A level line without scatter has a slope that is known, to be 0: nothing crosses either.
  return explained > 0 ? t2 * line.residual_sd * line.residual_sd / explained : std::numeric_limits<double>::infinity();
}

std::optional<Range> crossing(const Line& line, double y, Speaks speaks, double probability) {
  const double g = slope_doubt(line, probability);
  if (g >= 1) return std::nullopt;
  // (D - b v)^2 = t^2 s^2 (c + 1/n + v^2/Sxx) for v = x - mean of x, D = y - mean of y; g < 1 makes both roots real.
  const double away = y - line.at(line.x_mean);
  const double own = t_squared_of(line, probability) * line.residual_sd * line.residual_sd *
                     (share_beside_mean(speaks) + 1 / static_cast<double>(line.count));
  const double middle = away / (line.slope * (1 - g));
  const double half = std::sqrt(g * away * away + (1 - g) * own) / (std::abs(line.slope) * (1 - g));
  return Range{line.x_mean + middle - half, line.x_mean + middle + half};
}

ReadBack read_back(const Line& line, double y, double probability) {
  if (!std::isfinite(y)) refuse(fmt::format("reading {} is not a number: no x can be read back", y));
  if (line.slope == 0) refuse("a level line: no x can be read back from a reading");
  ReadBack result;
  result.x = (y - line.intercept) / line.slope;
  const double squares = line.residual_sd * line.residual_sd + line.u_intercept * line.u_intercept +
                         result.x * result.x * line.u_slope * line.u_slope + 2 * result.x * line.covariance;
  result.standard_uncertainty = std::sqrt(squares) / std::abs(line.slope);
  result.limits = crossing(line, y, Speaks::of_next_reading, probability);
  return result;
}

double check_limit(const Line& line, std::size_t together, double alpha) {
  if (together == 0 || !(alpha > 0 && alpha < 1)) {
    refuse(fmt::format("{} check standards at a false alarm rate of {}: expected one or more, and between 0 and 1",
                       together, alpha));
  }
  if (line.slope == 0) refuse("a level line: check standards cannot be read back");
  const double each = 1 - alpha / static_cast<double>(together);
  return student_two_sided(line.degrees_of_freedom, each) * line.residual_sd / std::abs(line.slope);
}

WeightedLine fit_weighted_line(std::span<const double> x, std::span<const double> y, std::span<const double> u) {
  std::vector<double> weights;
  for (std::size_t i = 0; i < u.size(); ++i) {
    if (!(u[i] > 0) || !std::isfinite(u[i])) {
      refuse(fmt::format("standard uncertainty {} is {}, expected above 0", i, u[i]));
    }
    weights.push_back(1 / (u[i] * u[i]));
  }
  if (weights.size() != y.size()) {
    refuse(fmt::format("{} standard uncertainties for {} readings: expected as many", u.size(), y.size()));
  }
  const Fit fit = fit_polynomial(x, y, 1, weights);
  WeightedLine line;
  line.intercept = fit.coefficients[0];
  line.slope = fit.coefficients[1];
  line.chi_squared = fit.variance.residual_squares;
  line.degrees_of_freedom = fit.variance.residual_degrees;
  line.birge_ratio = fit.residual_sd;
  line.is_scaled = line.birge_ratio > 1;
  double weight = 0;
  double moment = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    weight += weights[i];
    moment += weights[i] * x[i];
  }
  const double x_mean = moment / weight;
  double x_squares = 0;
  for (std::size_t i = 0; i < x.size(); ++i) x_squares += weights[i] * (x[i] - x_mean) * (x[i] - x_mean);
  const double by = std::max(1.0, line.birge_ratio);
  line.u_intercept = by * std::sqrt(1 / weight + x_mean * x_mean / x_squares);
  line.u_slope = by / std::sqrt(x_squares);
  line.covariance = -by * by * x_mean / x_squares;
  return line;
}

}  // namespace eyelevel::metrology::trend
