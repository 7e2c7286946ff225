// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/tables.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "core/report/words.hpp"

namespace eyelevel::report::workshop {

namespace {

std::string percent(const std::optional<double>& share) {
  return share ? fmt::format("{:.1f} %", 100 * *share) : std::string("-");
}

std::string range_text(const Yield& yield) {
  const auto range = yield.range();
  return range ? fmt::format("{:.1f} % to {:.1f} %", 100 * range->low, 100 * range->high) : std::string("-");
}

void add_yields(const std::vector<Yield>& list, const std::string& by, std::vector<std::string>& lines) {
  if (list.empty()) return;
  lines.push_back(fmt::format("{:<24} {:>8} {:>8} {:>10} {:>11}  {:>8}  {}", "by " + by, "passed", "failed",
                              "undecided", "not judged", "yield", "95 % interval"));
  for (const Yield& one : list)
    lines.push_back(fmt::format("{:<24} {:>8} {:>8} {:>10} {:>11}  {:>8}  {}", one.of.empty() ? "(not said)" : one.of,
                                one.passed, one.failed, one.undecided, one.not_judged, percent(one.share()),
                                range_text(one)));
  lines.emplace_back();
}

void add_fired(const std::vector<Fired>& fired, const Series& series, std::string_view on,
               std::vector<std::string>& lines) {
  for (const Fired& one : fired)
    lines.push_back(fmt::format(
        "    {}: {}, {}; first {} (run {}){}", on, one.rule,
        one.points.size() == 1 ? "once" : fmt::format("{} times", one.points.size()),
        time_text(series.points[one.points.front()].at), series.points[one.points.front()].run,
        one.points.size() == 1 ? "" : fmt::format(", last {}", time_text(series.points[one.points.back()].at))));
}

void add_chart(const Charted& one, const std::string& unit, std::string_view whose, std::vector<std::string>& lines) {
  const Series& series = one.series;
  const std::string centre = series.centre.count == 0 ? "reference" : "mean";
  lines.push_back(fmt::format("  {} at {}: {} readings, deviations from {} {} {:.4g} {}", series.model, series.bench,
                              series.points.size(), whose, centre, series.centre.value, unit));
  if (!one.charts) return;
  const auto& place = one.charts->individuals.limits.place;
  lines.push_back(fmt::format("    centre {:+.3g} {}, limits {:+.3g} {} to {:+.3g} {}, from {}", place.centre, unit,
                              place.low, unit, place.high, unit,
                              one.charts->is_from_itself ? "all of these readings (too few for limits of their own)"
                                                         : fmt::format("the first {}", one.charts->base)));
  add_fired(one.charts->individuals.fired, series, "single readings", lines);
  if (one.charts->averages) add_fired(one.charts->averages->fired, series, "averages of 5", lines);
  if (const auto& wide = one.charts->individuals.wide; !wide.empty())
    lines.push_back(fmt::format("    from one reading to the next: {} beyond the limit, first {} (run {})", wide.size(),
                                time_text(series.points[wide.front()].at), series.points[wide.front()].run));
  if (const auto& beyond = one.charts->weighted->beyond; !beyond.empty())
    lines.push_back(fmt::format("    weighted average: {} beyond its limits, first {} (run {})", beyond.size(),
                                time_text(series.points[beyond.front()].at), series.points[beyond.front()].run));
  if (one.charts->is_in_control()) lines.emplace_back("    no rule fired");
}

void add_capable(const Workshop& workshop, std::vector<std::string>& lines) {
  if (workshop.capable.empty()) return;
  lines.push_back(fmt::format("{} within its limits (1.33 is wanted)", workshop.reading));
  for (const Capable& one : workshop.capable) {
    lines.push_back(fmt::format("  {}: {} readings within {}, mean {:.4g} {}, standard deviation {:.2g} {}", one.model,
                                one.count, limit_text(one.limit, workshop.unit), one.mean, workshop.unit, one.sd,
                                workshop.unit));
    if (one.figures.spread)
      lines.push_back(fmt::format("    width of the limits in 6 standard deviations: {:.2f} ({:.2f} to {:.2f})",
                                  *one.figures.spread, one.figures.spread_range->low, one.figures.spread_range->high));
    lines.push_back(fmt::format("    distance of the mean from the nearer limit in 3: {:.2f} ({:.2f} to {:.2f}){}",
                                one.figures.nearest, one.figures.nearest_range.low, one.figures.nearest_range.high,
                                one.is_stable ? "" : "; not stable, so this tells of the past, not of what will come"));
  }
  lines.emplace_back();
}

bool is_named(const Compared& compared, const std::string& name) {
  return std::any_of(compared.off.begin(), compared.off.end(), [&](const auto& one) { return one.name == name; });
}

void add_compared(const std::optional<Compared>& compared, std::string_view what, const Workshop& workshop,
                  std::vector<std::string>& lines) {
  if (!compared) return;
  const auto& result = compared->result;
  lines.push_back(fmt::format("{}, against the others at the same benches and models (F {:.2f}, p {:.2g})", what,
                              result.f, result.p));
  for (const auto& one : result.groups)
    lines.push_back(fmt::format("  {:<22} {:>6} readings  {:+.3g} {} ± {:.2g} {}, standard deviation {:.2g} {}{}",
                                one.name, one.count, one.difference, workshop.unit, one.half_width, workshop.unit,
                                one.sd, workshop.unit, is_named(*compared, one.name) ? "  differs" : ""));
  lines.emplace_back();
}

}  // namespace

std::vector<std::string> tables(const Workshop& workshop) {
  std::vector<std::string> lines;
  add_yields(workshop.yields.model, "model", lines);
  add_yields(workshop.yields.bench, "bench", lines);
  add_yields(workshop.yields.who, "operator", lines);
  add_yields(workshop.yields.lot, "lot (units)", lines);
  add_yields(workshop.yields.week, "week from", lines);
  const auto add_charts = [&](const std::vector<Charted>& list, std::string_view whose, const std::string& heading) {
    if (list.empty()) return;
    lines.push_back(heading);
    for (const Charted& one : list) add_chart(one, workshop.unit, whose, lines);
    lines.emplace_back();
  };
  add_charts(workshop.checks, "its", fmt::format("{} of the check unit {}", workshop.reading, workshop.check_unit));
  add_charts(workshop.benches, "the model's", workshop.reading + ", by model and bench");
  add_compared(workshop.operators, "operators", workshop, lines);
  add_compared(workshop.lots, "lots of pickups", workshop, lines);
  add_capable(workshop, lines);
  for (const std::string& note : workshop.notes) lines.push_back("Note: " + note + ".");
  if (!lines.empty() && lines.back().empty()) lines.pop_back();
  return lines;
}

}  // namespace eyelevel::report::workshop
