// SPDX-License-Identifier: Apache-2.0
// Location, spread and correlation of a series of values. Not for raw samples of a waveform: those are
// core/signal/histogram.hpp. s is the experimental standard deviation (divisor n - 1), by two passes (NIST StRD
// univariate sets reach 15 digits of what doubles can hold). Values carry the caller's unit. An empty series, or one
// holding a value that is not finite, is refused with Error(bad_input) naming the value's place (counted from 0). Pure;
// any thread.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace eyelevel::metrology {

struct Statistics {
  std::size_t count = 0;
  double mean = 0;
  double sd = 0;  // 0 for a single value: nothing is known of its spread
};

Statistics statistics(std::span<const double> values);

// r_k = sum (y_i - mean)(y_(i+k) - mean) over the n - k pairs, divided by sum (y_i - mean)^2 over all n (the definition
// of the StRD certificates). 0 for a constant series. lag below the count.
double autocorrelation(std::span<const double> values, std::size_t lag);

// How many independent values a correlated series is worth: n / (1 + 2 sum (1 - k/n) r_k), the sum broken off at the
// first r_k that is not above 1/sqrt(n), the standard deviation of r_k of white noise; and no more than a first-order
// series of that r_1 is worth, since a sum broken off early misses slow waves. Never above n, never below 1.
double effective_count(std::span<const double> values);
// The same for a first-order autoregressive series: n (1 - r) / (1 + r), for -1 < r < 1; limited to 1 .. n.
double effective_count_first_order(std::size_t count, double lag_one_correlation);

// Sum of squared successive differences over sum of squared deviations: about 2 (1 - r_1). Two or more values; a
// constant series gives 2 (no sign of a trend).
double von_neumann_ratio(std::span<const double> values);

// Overlapping Allan deviation of the means of m successive values (NIST SP 1065): whether more averaging helps.
// Needs at least 2 m values.
double allan_deviation(std::span<const double> values, std::size_t m);

struct RobustLocation {
  double median = 0;
  double mad = 0;         // median of |y - median|
  double mad_scaled = 0;  // 1.4826 mad: estimates the standard deviation of normal data
};

RobustLocation robust_location(std::span<const double> values);

struct TrimmedMean {
  double mean = 0;
  double standard_error = 0;  // winsorised s / ((1 - 2 trimmed share) sqrt(n))
};

// Mean without the `each_side` smallest and largest values; fewer than half of them may be trimmed.
TrimmedMean trimmed_mean(std::span<const double> values, std::size_t each_side);

// Quantile of sorted values by straight lines between order statistics: place p (n - 1). 0 <= p <= 1.
double quantile_of_sorted(std::span<const double> sorted, double p);

}  // namespace eyelevel::metrology
