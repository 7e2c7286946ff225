// SPDX-License-Identifier: Apache-2.0
// Whether a series changed, since when, and by how much: at once (a probe, a cable, a disc was changed) or little by
// little (something ages). A change is told only where a series without one would look like this in less than 1 of 100
// cases, all series that were looked at taken together.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/report/workshop/series.hpp"

namespace eyelevel::report::workshop {

struct Change {
  std::size_t after = 0;                   // points before it
  std::size_t count = 0;                   // points in all
  double mean_before = 0, mean_after = 0;  // deviations
  double half_width = 0;                   // of the 95 % interval of their difference
  double chance = 1;                       // of such a difference without a change
  bool is_gradual = false;                 // a line describes it better than two levels
  double per_day = 0;                      // slope of that line
  std::string run;                         // the first one after it
  base::UtcTime since{};                   // when that began

  double shift() const { return mean_after - mean_before; }
};

inline constexpr std::size_t least_for_change = 8;

// `looked_at`: how many series are searched together. Nothing: no change that can be told from chance, or too few
// points.
std::optional<Change> change_in(std::span<const Point> points, std::size_t looked_at = 1);

// The level of each point about which it may be judged by itself: the mean of the series, before and after its change
// apart; along the line where it is gradual.
std::vector<double> levels_of(std::span<const Point> points, const std::optional<Change>& change);

}  // namespace eyelevel::report::workshop
