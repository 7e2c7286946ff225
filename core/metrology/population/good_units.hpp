// SPDX-License-Identifier: Apache-2.0
// What known good units read, as limits for others of their model: a tolerance interval, so that few units give wide
// limits instead of wrong ones. Units that do not fit among the others are named and stay in; who leaves one out does
// so by calling again without it. The scatter of the readings holds the units' own and that of measuring; an error that
// all readings share (one bench) is not in it. Readings in one unit of measure, from one disc kind and setting.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/metrology/population/tolerance.hpp"
#include "core/metrology/reading.hpp"

namespace eyelevel::metrology::population {

struct GoodUnit {
  std::string name;  // its serial
  double value = 0;
};

enum class Sides { both, at_least, at_most };

struct ReferenceOptions {
  Stated stated;
  Sides sides = Sides::both;
  double outlier_significance = 0.05;
};

struct DoubtfulUnit {
  GoodUnit unit;
  double statistic = 0;  // distance from the mean of those left, in their s
  double critical = 0;
};

struct UnitsReference {
  std::size_t count = 0;
  double mean = 0;
  double sd = 0;                          // 0 for one unit: nothing is known of the spread
  std::optional<double> factor;           // k of mean +- k s; none for one unit
  std::optional<Limit> limit;             // none for one unit
  std::vector<DoubtfulUnit> doubtful;     // the farthest first
  std::optional<Limit> without_doubtful;  // what leaving them out would give; only where there are any
  std::vector<std::string> warnings;
};

// Outliers are looked for from three units on: one among fewer than 8, else two or a tenth (extreme_deviates).
// Error(bad_input): no unit, a unit twice (average its readings first), a value that is not finite.
UnitsReference reference_from_units(std::span<const GoodUnit> units, const ReferenceOptions& options = {});

}  // namespace eyelevel::metrology::population
