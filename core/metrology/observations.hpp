// SPDX-License-Identifier: Apache-2.0
// The mean of repeated observations with its uncertainty of type A (GUM 4.2), and whether a quantity has settled enough
// to be averaged at all. Values in the caller's unit. Error(bad_input) on values that are not finite.
#pragma once

#include <cstddef>
#include <span>
#include <string>

#include "core/metrology/reading.hpp"

namespace eyelevel::metrology {

struct MeanOfObservations {
  double value = 0;
  double standard_uncertainty = 0;  // s / sqrt(effective count)
  double degrees_of_freedom = 0;    // effective count - 1, not below 1
  std::size_t count = 0;
  double effective_count = 0;  // below count where successive observations resemble each other
  double sd = 0;

  // Effect: sensitivity times the standard uncertainty.
  Contribution contribution(std::string source, double sensitivity = 1) const;
};

// Two observations or more, in the order in which they were taken; equally spaced as far as correlation matters.
MeanOfObservations mean_of_observations(std::span<const double> in_order);
// The same where the observations are known to be independent: s / sqrt(n), n - 1 degrees of freedom.
MeanOfObservations mean_of_independent(std::span<const double> observations);

struct SettledOptions {
  double limit_width = 0;            // distance of the limit's sides, or what stands for it; above 0
  double allowed_drift_share = 0.1;  // of the limit width, over the span of the values
};

struct Settled {
  bool is_settled = false;
  double drift = 0;  // fitted slope times span
  double allowed_drift = 0;
  double von_neumann_ratio = 0;  // near 2 for white noise
  double least_ratio = 0;        // one-sided 5 % limit
  std::string because;           // empty when settled, else a clause that says what moves
};

constexpr std::size_t least_for_settled = 8;

// On the last values (8 or more), evenly spaced: (a) a fitted line changes by less than the allowed share of the limit
// width over the span; (b) the von Neumann ratio lies above 2 - 3.29 sqrt((m - 2)/(m^2 - 1)), 5 % one-sided.
Settled settled(std::span<const double> last_values, const SettledOptions& options);

}  // namespace eyelevel::metrology
