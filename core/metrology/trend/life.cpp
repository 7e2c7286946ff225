// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/trend/life.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/base/error.hpp"
#include "core/metrology/statistics.hpp"

namespace eyelevel::metrology::trend {

namespace {

[[noreturn]] void refuse(std::string message) { throw base::Error(base::ErrorCode::bad_input, std::move(message)); }

void require_usable(std::span<const double> hours, std::span<const double> readings, double limit) {
  if (hours.size() != readings.size()) {
    refuse(fmt::format("{} readings at {} times: expected as many", readings.size(), hours.size()));
  }
  if (!std::isfinite(limit)) refuse(fmt::format("limit is {}, expected a number", limit));
  for (std::size_t i = 0; i < hours.size(); ++i) {
    if (!std::isfinite(hours[i]) || !std::isfinite(readings[i])) {
      refuse(fmt::format("reading {} is {} at {} hours, expected numbers", i, readings[i], hours[i]));
    }
  }
}

bool is_one_time(std::span<const double> hours) {
  return std::all_of(hours.begin(), hours.end(), [&](double h) { return h == hours.front(); });
}

}  // namespace

Life life_to_limit(std::span<const double> hours, std::span<const double> readings, double limit, double probability) {
  require_usable(hours, readings, limit);
  Life life;
  life.probability = probability;
  if (hours.size() < 3 || is_one_time(hours)) {
    life.notes.push_back(
        fmt::format("{} readings are too few for a trend: three at different times are the least", hours.size()));
    return life;
  }
  const Line line = fit_line(hours, readings);
  life.line = line;
  const auto of_mean = crossing(line, limit, Speaks::of_mean, probability);
  if (!of_mean) {
    life.answer = LifeAnswer::no_trend;
    life.notes.emplace_back("no trend: the readings scatter too much to tell their change from none");
    return life;
  }
  life.hours_to_limit = (limit - line.intercept) / line.slope;
  if (life.hours_to_limit < line.x_least) {
    life.answer = LifeAnswer::moving_away;
    life.notes.emplace_back("the readings move away from the limit");
    return life;
  }
  life.answer = LifeAnswer::known;
  life.of_mean = *of_mean;
  life.of_next_reading = *crossing(line, limit, Speaks::of_next_reading, probability);
  const double span = line.x_most - line.x_least;
  life.is_far = life.hours_to_limit > line.x_least + 2 * span;
  if (life.is_far) {
    life.notes.push_back(
        fmt::format("the limit lies beyond twice the {:.0f} hours that were observed: a change that "
                    "quickens with age meets it earlier",
                    span));
  }
  if (life.hours_to_limit <= line.x_most) life.notes.emplace_back("the line has met the limit already");
  if (line.degrees_of_freedom < 3) {
    life.notes.push_back(fmt::format("only {} readings stand behind this trend", line.count));
  }
  return life;
}

DegradationLife degradation_life(std::span<const UnitVisits> units, double limit) {
  DegradationLife result;
  std::vector<double> logarithms;
  for (const UnitVisits& unit : units) {
    require_usable(unit.hours, unit.readings, limit);
    UnitCrossing here{unit.name, std::nullopt};
    if (unit.hours.size() >= 2 && !is_one_time(unit.hours)) {
      // Two readings have no scatter to fit with, so the line is written out.
      const double middle = statistics(unit.hours).mean;
      const double level = statistics(unit.readings).mean;
      double products = 0;
      double squares = 0;
      for (std::size_t i = 0; i < unit.hours.size(); ++i) {
        products += (unit.hours[i] - middle) * (unit.readings[i] - level);
        squares += (unit.hours[i] - middle) * (unit.hours[i] - middle);
      }
      const double hours = middle + (limit - level) * squares / products;  // infinite for a level line
      if (std::isfinite(hours) && hours > 0) here.hours = hours;
    }
    if (here.hours) logarithms.push_back(std::log(*here.hours));
    result.units.push_back(here);
  }
  result.crossing = logarithms.size();
  if (logarithms.size() < 2) return result;
  const Statistics s = statistics(logarithms);
  result.log_mean = s.mean;
  result.log_sd = s.sd;
  result.median_hours = std::exp(s.mean);
  return result;
}

}  // namespace eyelevel::metrology::trend
