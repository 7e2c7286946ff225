// SPDX-License-Identifier: Apache-2.0
// Control charts of one series: individuals with moving ranges, averages of five in a row with their ranges, and the
// exponentially weighted average. Limits come from the first readings, before a change that was found, and are kept:
// what came later is held against what was. Which rules fired, how often, and where first and last.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/metrology/chart/limits.hpp"
#include "core/metrology/chart/signals.hpp"
#include "core/metrology/chart/weighted.hpp"
#include "core/report/workshop/series.hpp"

namespace eyelevel::report::workshop {

inline constexpr std::size_t base_readings = 20;   // limits want as many (common practice)
inline constexpr std::size_t least_for_chart = 8;  // below, a chart says nothing
inline constexpr std::size_t sample_size = 5;

struct Fired {
  std::string rule;                 // by its content: "8 points in a row below the centre"
  std::vector<std::size_t> points;  // of the series, that completed it, in order, counted from 0; one or more
};

struct Chart {
  metrology::chart::ChartLimits limits;
  std::vector<double> points;     // deviations; for averages those of five in a row
  std::vector<double> spread;     // moving ranges, or ranges
  std::vector<Fired> fired;       // on the first chart
  std::vector<std::size_t> wide;  // points of the series at which the spread lay above its limit
};

struct Charts {
  std::size_t base = 0;         // readings that the limits come from, the first ones
  bool is_from_itself = false;  // too few readings for limits of their own: all of them
  Chart individuals;
  std::optional<Chart> averages;  // none with fewer than two samples in the base
  std::optional<metrology::chart::WeightedAverage> weighted;
  double sigma = 0;  // of one reading, from one to the next
  // The first point of the series, from `from` on, that any rule of place speaks of; nothing: none does.
  std::optional<std::size_t> first_signal(std::size_t from = 0) const;
  bool is_in_control() const { return !first_signal() && individuals.wide.empty(); }
};

// `well_until`: points before a change, where one was found. Nothing for a series too short, or one in which every
// reading of the base is the same.
std::optional<Charts> charts_of(const Series& series, std::optional<std::size_t> well_until = std::nullopt);

}  // namespace eyelevel::report::workshop
