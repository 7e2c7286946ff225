// SPDX-License-Identifier: Apache-2.0
// A reading: a value with unit, uncertainty, count, and how it was obtained; and the judgement of it.
// GUM = JCGM 100:2008; JCGM 101:2008; JCGM 106:2012.
#pragma once

#include <cstdint>
#include <limits>
#include <optional>
#include <string>
#include <vector>

namespace eyelevel::metrology {

enum class Shape { normal, rectangular, triangular, arcsine };

// One line of an uncertainty budget. `effect` is sensitivity times standard uncertainty, in the unit of the reading,
// with sign: lines of equal `source` in two readings are the same physical error and combine with their signs
// (GUM 5.2), all others in squares.
struct Contribution {
  std::string source;  // "gain of scope (SN 12)", "captures of pressed"
  char type = 'B';     // 'A' from repeated observations, 'B' from other knowledge (GUM 4.2, 4.3)
  Shape shape = Shape::normal;
  double effect = 0;
  double degrees_of_freedom = std::numeric_limits<double>::infinity();
};

struct Interval {
  double standard_uncertainty = 0;
  double expanded_uncertainty =
      0;  // half-width that holds coverage_probability, by convolution of the shapes (JCGM 101)
  double coverage_probability = 0.95;
  double degrees_of_freedom = std::numeric_limits<double>::infinity();
};

struct Limit {
  std::optional<double> at_least;
  std::optional<double> at_most;
};

enum class Judgement { pass, fail, undecided };

// pass: the whole stated interval lies inside the limit; fail: it lies wholly outside; undecided otherwise (JCGM
// 106 8.3).
Judgement judge(double value, double expanded_uncertainty, const Limit& limit);

struct Reading {
  std::string name;
  double value = 0;
  std::string unit;  // "V", "1" for ratios
  Interval interval;
  std::int64_t count = 0;                   // observations behind it
  std::optional<std::int64_t> tried;        // observations made, when some were not kept
  std::vector<Contribution> contributions;  // the budget, so that readings can be combined later
  std::optional<Limit> limit;
  std::optional<Judgement> judgement;
  std::string measure;              // "eye level", "d.c. level", "difference of", ...
  std::string of;                   // the signal, or empty for a combination
  std::vector<std::string> inputs;  // readings or captures it was made from
  double from_s = 0, until_s = 0;   // Timeline span in which the observations were taken
  std::vector<std::string> notes;   // why not kept, what was assumed
};

// Combines contributions: equal sources by sum of effects, then the convolution. Throws Error(bad_input) on a negative
// or NaN effect magnitude or degrees of freedom below 1.
Interval combine(const std::vector<Contribution>& contributions, double coverage_probability = 0.95);

}  // namespace eyelevel::metrology
