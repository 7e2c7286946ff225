// SPDX-License-Identifier: Apache-2.0
// Limits of control charts out of readings taken while all was well: individuals with moving ranges, averages with
// ranges or standard deviations (NIST/SEMATECH e-Handbook 6.3.2). They are taken once, from 20 readings or samples or
// more (common practice), then kept; signals.hpp holds later points against them. Units of different models are
// different populations: chart the deviation from the model's reference.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace eyelevel::metrology::chart {

struct Limits {
  double low = 0, centre = 0, high = 0;
};

// One chart for where readings lie, one for how far they scatter.
struct ChartLimits {
  Limits place;
  Limits spread;
  double point_sigma = 0;   // standard deviation of a point of the first chart: three of it make its limits
  double within_sigma = 0;  // of single readings, from the scatter within samples (or from one to the next)
};

// Two readings or more, in the order in which they were taken. Spread: of |x(i) - x(i - 1)|.
ChartLimits individuals(std::span<const double> in_order);
std::vector<double> moving_ranges(std::span<const double> in_order);

enum class SpreadBy { range, standard_deviation };

// What a sample plots: its mean, and its range or standard deviation.
struct SamplePoint {
  double mean = 0, spread = 0;
};
SamplePoint point_of(std::span<const double> sample, SpreadBy by);

// One sample or more, of equal size, two readings or more each. Error(bad_input) names the sample that differs.
ChartLimits averages(std::span<const std::vector<double>> samples, SpreadBy by);

}  // namespace eyelevel::metrology::chart
