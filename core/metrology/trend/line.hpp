// SPDX-License-Identifier: Apache-2.0
// A straight line through readings, with what may be said beside it: the bands of its mean and of one more reading,
// where they cross a level, and what x a reading speaks of (inverse prediction: NIST/SEMATECH
// e-Handbook 2.3.6.7.3, 4.4.4). Intervals are two-sided with Student's t, n - 2 degrees of freedom; they take readings
// for independent and equally good. Where they are not equally good: fit_weighted_line.
#pragma once

#include <cstddef>
#include <optional>
#include <span>

namespace eyelevel::metrology::trend {

struct Range {
  double low = 0, high = 0;
};

struct Line {
  double intercept = 0, slope = 0;
  double u_intercept = 0, u_slope = 0;
  double covariance = 0;  // of the two
  double residual_sd = 0;
  double degrees_of_freedom = 0;
  std::size_t count = 0;
  double x_mean = 0, x_squares = 0;  // mean of x, sum of squares about it
  double x_least = 0, x_most = 0;

  double at(double x) const { return intercept + slope * x; }
};

// Three readings or more, at two places or more. Error(bad_input) else, and as fit_polynomial.
Line fit_line(std::span<const double> x, std::span<const double> y);

// For whom a band speaks: the line itself (mean of many readings), or one more reading.
enum class Speaks { of_mean, of_next_reading };

double standard_error_at(const Line& line, double x, Speaks speaks);
Range band_at(const Line& line, double x, Speaks speaks, double probability = 0.95);

// How well the slope is known: t^2 s^2/(b^2 Sxx). 1 or more: the slope may be 0 at this probability.
double slope_doubt(const Line& line, double probability = 0.95);

// The x between which the band crosses the level y (Fieller's limits). None where slope_doubt is 1 or more.
std::optional<Range> crossing(const Line& line, double y, Speaks speaks, double probability = 0.95);

struct ReadBack {
  double x = 0;
  double standard_uncertainty = 0;  // first order, of one reading y
  std::optional<Range> limits;      // Fieller's; none where the slope may be 0
};

// The x of which one reading y speaks. Error(bad_input) for a line that is level.
ReadBack read_back(const Line& line, double y, double probability = 0.95);

// How far a check standard's read-back x may lie from its true one when `together` of them are looked at and a false
// alarm of any of them is to have the probability `alpha`: (s/b) t (e-Handbook 2.3.7).
double check_limit(const Line& line, std::size_t together, double alpha = 0.05);

struct WeightedLine {
  double intercept = 0, slope = 0;
  double u_intercept = 0, u_slope = 0;
  double covariance = 0;
  double chi_squared = 0;
  double degrees_of_freedom = 0;
  double birge_ratio = 0;  // sqrt(chi squared / degrees); well above 1: the stated u are too small
  bool is_scaled = false;  // whether the uncertainties above were multiplied by it, as they are when it is above 1
};

// `u`: standard uncertainty of each y, above 0; independent of each other. Weights are 1/u^2.
WeightedLine fit_weighted_line(std::span<const double> x, std::span<const double> y, std::span<const double> u);

}  // namespace eyelevel::metrology::trend
