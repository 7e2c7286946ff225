// SPDX-License-Identifier: Apache-2.0
// Shares and how sure they are: capability of a stable process (NIST/SEMATECH e-Handbook 6.1.6), the share of units
// that pass (Wilson's interval), and how often a limit with measurement uncertainty passes bad units or rejects good
// ones (JCGM 106:2012 clause 9). Two-sided intervals of the stated probability.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>

#include "core/metrology/reading.hpp"

namespace eyelevel::metrology::population {

struct ShareRange {
  double low = 0, high = 0;
};

struct Process {
  double mean = 0;
  double sd = 0;                  // within samples (Cp, Cpk) or of all readings (Pp, Ppk); above 0
  std::size_t count = 0;          // readings behind the mean
  double degrees_of_freedom = 0;  // of sd: count - 1 for one of all readings; about 0.9 k (n - 1) from k ranges of n
};

struct Capability {
  std::optional<double> spread;            // Cp, Pp: width of the limit in 6 sd; none for a limit with one side
  std::optional<ShareRange> spread_range;  // by chi-squared
  double nearest = 0;  // Cpk, Ppk: distance of the mean from the nearer side in 3 sd; below 0: the mean lies outside
  ShareRange nearest_range;  // normal approximation
};

// Only meaningful on a chart in control. Error(bad_input): an unusable limit, sd not above 0, fewer than two readings.
Capability capability(const Process& process, const Limit& limit, double probability = 0.95);

// Of `successes` in `trials` (1 or more): Wilson's score interval, which none of twenty leaves an upper end of 16 %.
ShareRange share_range(std::int64_t successes, std::int64_t trials, double probability = 0.95);

struct Population {
  double mean = 0, sd = 0;  // of the true values, taken for normal; sd above 0
};

struct GlobalRisk {
  double nonconforming = 0;  // share of the population outside its limit
  double consumers = 0;      // share that is accepted and bad
  double producers = 0;      // share that is rejected and good
};

// Accepted is what reads inside the limit drawn in by `guard` on each side (below 0: let out). u above 0.
GlobalRisk global_risk(const Population& population, double standard_uncertainty, const Limit& limit, double guard);

}  // namespace eyelevel::metrology::population
