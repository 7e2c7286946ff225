// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/workshop.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "core/metrology/statistics.hpp"
#include "core/quantity/counted.hpp"
#include "core/report/workshop/lots.hpp"

namespace eyelevel::report::workshop {

using metrology::statistics;
using quantity::counted;

namespace {

bool is_same(const metrology::Limit& a, const metrology::Limit& b) {
  return a.at_least == b.at_least && a.at_most == b.at_most;
}

// Readings of another unit of measure (a sequence was changed) are no part of this.
std::vector<record::ReadingRow> of_one_unit(std::span<const record::ReadingRow> rows, Workshop& workshop) {
  std::vector<record::ReadingRow> kept;
  if (rows.empty()) return kept;
  workshop.unit = rows.front().unit;
  for (const record::ReadingRow& row : rows)
    if (row.unit == workshop.unit) kept.push_back(row);
  if (kept.size() < rows.size())
    workshop.notes.push_back(fmt::format("{} of {} in another unit than {} {} left out",
                                         counted(rows.size() - kept.size(), "reading"), workshop.reading, workshop.unit,
                                         rows.size() - kept.size() == 1 ? "is" : "are"));
  return kept;
}

std::vector<Charted> charted(std::vector<Series> list, std::size_t looked_at) {
  std::vector<Charted> all;
  for (Series& series : list) {
    Charted one;
    one.change = change_in(series.points, looked_at);
    one.charts = charts_of(series, one.change ? std::optional(one.change->after) : std::nullopt);
    one.series = std::move(series);
    all.push_back(std::move(one));
  }
  return all;
}

bool is_stable(const Workshop& workshop, const std::string& model) {
  return std::all_of(workshop.benches.begin(), workshop.benches.end(), [&](const Charted& c) {
    return c.series.model != model || (!c.change && c.charts && c.charts->is_in_control());
  });
}

// Of each model that has a limit; `rows` newest first.
std::vector<Capable> capable_models(std::span<const record::ReadingRow> rows, const Workshop& workshop) {
  std::map<std::string, Capable> models;
  std::map<std::string, std::vector<double>> values;
  for (const record::ReadingRow& row : rows) {
    if (!row.limit) continue;
    const auto [at, is_new] = models.try_emplace(row.model);
    if (is_new) at->second.model = row.model, at->second.limit = *row.limit;
    if (is_same(at->second.limit, *row.limit)) values[row.model].push_back(row.value);
  }
  std::vector<Capable> list;
  for (auto& [model, one] : models) {
    const auto s = statistics(values[model]);
    if (s.count < 2 || !(s.sd > 0)) continue;
    one.count = s.count;
    one.mean = s.mean;
    one.sd = s.sd;
    one.figures =
        metrology::population::capability({s.mean, s.sd, s.count, static_cast<double>(s.count - 1)}, one.limit);
    one.is_stable = is_stable(workshop, model);
    list.push_back(one);
  }
  return list;
}

// A bench at which one person alone measured says nothing of that person.
bool is_served_by_one(const Series& series) {
  return std::all_of(series.points.begin(), series.points.end(),
                     [&](const Point& p) { return p.who == series.points.front().who; });
}

std::vector<metrology::study::GroupAgainstOthers> those_off(std::vector<metrology::study::Group> groups) {
  std::vector<metrology::study::GroupAgainstOthers> off;
  while (groups.size() >= 2) {
    const auto now = metrology::study::one_way(groups).groups;
    // Of two, both differ alike: the smaller is the exception.
    const bool are_two = now.size() == 2;
    const auto farthest = std::max_element(now.begin(), now.end(), [&](const auto& a, const auto& b) {
      if (are_two) return a.count > b.count;
      return std::abs(a.difference) * b.half_width < std::abs(b.difference) * a.half_width;
    });
    if (!farthest->is_off()) break;
    off.push_back(*farthest);
    groups.erase(groups.begin() + (farthest - now.begin()));
  }
  return off;
}

// `name_of` a series and a point of it; an empty name counts for nobody.
template <class Name>
std::optional<Compared> compared(std::span<const Charted* const> all, Name name_of) {
  std::map<std::string, std::vector<double>> by_name;
  double centres = 0;
  for (const Charted* one : all) {
    const auto levels = levels_of(one->series.points, one->change);
    for (std::size_t i = 0; i < levels.size(); ++i)
      if (const std::string name = name_of(one->series, one->series.points[i]); !name.empty())
        by_name[name].push_back(one->series.points[i].deviation - levels[i]);
    centres += one->series.centre.value;
  }
  std::vector<metrology::study::Group> groups;
  for (auto& [name, values] : by_name)
    if (values.size() >= 2) groups.push_back({name, std::move(values)});
  if (groups.size() < 2) return std::nullopt;
  return Compared{metrology::study::one_way(groups), those_off(groups), centres / static_cast<double>(all.size())};
}

std::optional<Compared> operators_of(Workshop& workshop) {
  std::vector<const Charted*> shared;
  for (const Charted& one : workshop.benches) {
    if (!is_served_by_one(one.series))
      shared.push_back(&one);
    else if (!one.series.points.front().who.empty())
      workshop.notes.push_back(
          fmt::format("{} of {} at {} alone were measured by {} alone: person and bench cannot be told apart there",
                      counted(one.series.points.size(), "reading"), one.series.model, one.series.bench,
                      one.series.points.front().who));
  }
  return compared(shared, [](const Series&, const Point& point) { return point.who; });
}

std::optional<Compared> lots_of(const Workshop& workshop, const Lots& lots) {
  std::vector<const Charted*> all;
  for (const Charted& one : workshop.benches) all.push_back(&one);
  return compared(
      all, [&](const Series& series, const Point& point) { return lots.at({point.serial, series.model}, point.at); });
}

}  // namespace

Scale scale_of(const Charted& charted, const std::string& unit) {
  const auto& points = charted.series.points;
  return {charted.series.centre.value, points.size() < 2 ? 0 : statistics(deviations_of(charted.series)).sd, unit};
}

Workshop workshop_of(std::span<const record::Tally> tallies, std::span<const record::ReadingRow> rows,
                     const Asked& asked, std::span<const record::PickupBook> pickups) {
  Workshop workshop;
  workshop.reading = asked.reading;
  workshop.check_unit = asked.check_unit;
  workshop.yields = yields_of(tallies);
  const auto all = of_one_unit(rows, workshop);
  workshop.readings = all.size();
  std::vector<record::ReadingRow> units, check;
  for (const record::ReadingRow& row : all)
    (!asked.check_unit.empty() && row.serial == asked.check_unit ? check : units).push_back(row);
  // What the check unit reads is held against itself: no reference of its model is asked.
  auto of_units = series_of(units, asked.references), of_check = series_of(check);
  const std::size_t looked_at = of_units.size() + of_check.size();
  workshop.benches = charted(std::move(of_units), looked_at);
  const Lots lots(pickups);
  workshop.yields.lot = yields_by_lot(units, lots);
  workshop.checks = charted(std::move(of_check), looked_at);
  workshop.capable = capable_models(units, workshop);
  workshop.operators = operators_of(workshop);
  workshop.lots = lots_of(workshop, lots);
  for (const Charted& one : workshop.benches)
    if (one.series.points.size() < least_for_chart)
      workshop.notes.push_back(fmt::format("{} at {}: {} are too few for a chart", one.series.model, one.series.bench,
                                           counted(one.series.points.size(), "reading")));
  if (!asked.check_unit.empty() && check.empty())
    workshop.notes.push_back(fmt::format("there is no reading of the check unit {}", asked.check_unit));
  return workshop;
}

}  // namespace eyelevel::report::workshop
