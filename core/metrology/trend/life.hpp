// SPDX-License-Identifier: Apache-2.0
// When a reading that changes with the hours will meet its limit: the line through one unit's visits with the band of
// its mean and of the next reading, and the lines of several units together (NIST/SEMATECH e-Handbook 8.4.2.3: a line
// for each, the crossings lognormal). A line is all that is known of the future; a laser that ages faster late meets
// its limit before it. Hours as the caller counts them, readings and limit in one unit.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/metrology/trend/line.hpp"

namespace eyelevel::metrology::trend {

enum class LifeAnswer {
  known,        // `hours_to_limit` and both ranges hold
  too_few,      // fewer than three readings, or all at one time: nothing can be said
  no_trend,     // the slope may be 0: there is no upper end
  moving_away,  // the line left the limit behind before the first reading
};

struct Life {
  LifeAnswer answer = LifeAnswer::too_few;
  double probability = 0.95;
  std::optional<Line> line;  // none with too few readings
  double hours_to_limit = 0;
  Range of_mean;          // where the level itself meets the limit
  Range of_next_reading;  // where a reading may first, and will at the latest, lie beyond it
  bool is_far = false;    // beyond twice the observed span after its begin: says so in `notes`
  std::vector<std::string> notes;
};

// Error(bad_input): lengths that differ, values that are not finite, a limit that is not finite.
Life life_to_limit(std::span<const double> hours, std::span<const double> readings, double limit,
                   double probability = 0.95);

struct UnitVisits {
  std::string name;
  std::vector<double> hours, readings;
};

struct UnitCrossing {
  std::string name;
  std::optional<double> hours;  // none: too few readings, or the line does not lead to the limit after hour 0
};

struct DegradationLife {
  std::vector<UnitCrossing> units;  // all of them, in the order given
  std::size_t crossing = 0;         // those with hours
  std::optional<double> log_mean;   // of ln hours; none unless two units or more cross
  std::optional<double> log_sd;
  std::optional<double> median_hours;
};

// Two readings a unit are enough for its line; how well that line is known does not enter. Units that do not lead to
// the limit are counted apart, and a median without them is too early.
DegradationLife degradation_life(std::span<const UnitVisits> units, double limit);

}  // namespace eyelevel::metrology::trend
