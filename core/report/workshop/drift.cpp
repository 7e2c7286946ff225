// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/drift.hpp"

#include <boost/math/distributions/students_t.hpp>
#include <chrono>
#include <cmath>

#include "core/metrology/statistics.hpp"
#include "core/metrology/trend/change_point.hpp"
#include "core/metrology/trend/line.hpp"

namespace eyelevel::report::workshop {

using metrology::Statistics;
using metrology::statistics;

namespace {

constexpr double told_below = 0.01;
constexpr std::size_t points_most = 200;  // a change point of more costs seconds

double days_since(base::UtcTime begin, base::UtcTime at) {
  return std::chrono::duration<double, std::ratio<86400>>(at - begin).count();
}

// Means of equally many points in a row, so that there are no more than `points_most` of them.
std::vector<double> in_blocks(std::span<const Point> points, std::size_t block) {
  std::vector<double> means;
  for (std::size_t at = 0; at + block <= points.size(); at += block) {
    double sum = 0;
    for (const Point& point : points.subspan(at, block)) sum += point.deviation;
    means.push_back(sum / static_cast<double>(block));
  }
  return means;
}

std::vector<double> deviations(std::span<const Point> points) {
  std::vector<double> list;
  for (const Point& point : points) list.push_back(point.deviation);
  return list;
}

// Line of the deviations over days; nothing where all were taken at one time.
std::optional<metrology::trend::Line> line_through(std::span<const Point> points) {
  if (points.front().at == points.back().at) return std::nullopt;
  std::vector<double> days;
  for (const Point& point : points) days.push_back(days_since(points.front().at, point.at));
  return metrology::trend::fit_line(days, deviations(points));
}

}  // namespace

std::optional<Change> change_in(std::span<const Point> points, std::size_t looked_at) {
  if (points.size() < least_for_change) return std::nullopt;
  const std::size_t block = (points.size() + points_most - 1) / points_most;
  const auto found = metrology::trend::change_point(in_blocks(points, block));
  if (!(found.chance * static_cast<double>(std::max<std::size_t>(looked_at, 1)) < told_below)) return std::nullopt;
  Change change;
  change.after = found.after * block;
  change.count = points.size();
  change.chance = found.chance;
  const Statistics before = statistics(deviations(points.first(change.after)));
  const Statistics after = statistics(deviations(points.subspan(change.after)));
  change.mean_before = before.mean;
  change.mean_after = after.mean;
  const double n1 = static_cast<double>(before.count), n2 = static_cast<double>(after.count);
  const double squares = (n1 - 1) * before.sd * before.sd + (n2 - 1) * after.sd * after.sd;
  const double t = boost::math::quantile(boost::math::students_t(n1 + n2 - 2), 0.975);
  change.half_width = t * std::sqrt(squares / (n1 + n2 - 2) * (1 / n1 + 1 / n2));
  change.run = points[change.after].run;
  change.since = points[change.after].at;
  if (const auto line = line_through(points)) {
    change.is_gradual = line->residual_sd * line->residual_sd * line->degrees_of_freedom < squares;
    change.per_day = line->slope;
  }
  return change;
}

std::vector<double> levels_of(std::span<const Point> points, const std::optional<Change>& change) {
  std::vector<double> levels;
  if (points.empty()) return levels;
  if (change && change->is_gradual) {
    const auto line = line_through(points);
    for (const Point& point : points) levels.push_back(line->at(days_since(points.front().at, point.at)));
    return levels;
  }
  const double mean = statistics(deviations(points)).mean;
  for (std::size_t i = 0; i < points.size(); ++i)
    levels.push_back(!change ? mean : i < change->after ? change->mean_before : change->mean_after);
  return levels;
}

}  // namespace eyelevel::report::workshop
