// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/sentences.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/metrology/statistics.hpp"
#include "core/quantity/counted.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/report/words.hpp"

namespace eyelevel::report::workshop {

using quantity::counted;

namespace {

std::string day_text(base::UtcTime at) { return record::utc_text(at).substr(0, 10); }

std::string_view side_of(double shift) { return shift < 0 ? "low" : "high"; }

// "first seen 2030-05-12 09:12 UTC in run 2030-05-12-3": where a rule of a chart spoke after the change.
std::string first_seen(const Charted& one) {
  const auto at = one.charts ? one.charts->first_signal(one.change->after) : std::nullopt;
  if (!at) return "no single rule of a chart has fired yet";
  const Point& point = one.series.points[*at];
  return fmt::format("first seen {} in run {}", time_text(point.at), point.run);
}

// What the readings of a bench did, as a clause: "reads LF-2 4 % low since 2030-05-12 (± 0.6 %; 20 readings before, 31
// after), first seen ...".
std::string change_clause(const Charted& one, const std::string& of, const std::string& unit) {
  const Change& change = *one.change;
  const Scale scale = scale_of(one, unit);
  const std::string sure = fmt::format("± {}; {} before, {} after", amount_text(change.half_width, scale),
                                       counted(change.after, "reading"), change.count - change.after);
  if (!change.is_gradual)
    return fmt::format("reads {} {} {} since {} ({}), {}", of, amount_text(change.shift(), scale),
                       side_of(change.shift()), day_text(change.since), sure, first_seen(one));
  constexpr double days = 7;
  return fmt::format("reads {} ever {}, by {} a week since {}: {} {} in the later part ({}), {}", of,
                     change.per_day < 0 ? "lower" : "higher", amount_text(change.per_day * days, scale),
                     day_text(one.series.points.front().at), amount_text(change.shift(), scale),
                     side_of(change.shift()), sure, first_seen(one));
}

const Charted* check_of(const Workshop& workshop, const std::string& bench) {
  for (const Charted& one : workshop.checks)
    if (one.series.bench == bench) return &one;
  return nullptr;
}

void tell_checks(const Workshop& workshop, std::vector<std::string>& told) {
  for (const Charted& one : workshop.checks)
    if (one.change)
      told.push_back(fmt::format(
          "{} {}. Look there for a changed probe, cable, instrument or disc before trusting what it measured "
          "since.",
          one.series.bench, change_clause(one, "the check unit " + workshop.check_unit, workshop.unit)));
}

// Whether the benches of a model moved together: then it is not one bench.
bool moved_together(const Workshop& workshop, const Charted& one) {
  std::size_t alike = 0, others = 0;
  for (const Charted& other : workshop.benches) {
    if (other.series.model != one.series.model) continue;
    ++others;
    alike += other.change && (other.change->shift() < 0) == (one.change->shift() < 0);
  }
  return others > 1 && alike == others;
}

void tell_benches(const Workshop& workshop, std::vector<std::string>& told) {
  for (const Charted& one : workshop.benches) {
    if (!one.change) continue;
    const Charted* check = check_of(workshop, one.series.bench);
    const std::string what =
        fmt::format("{} {}", one.series.bench, change_clause(one, one.series.model, workshop.unit));
    if (moved_together(workshop, one))
      told.push_back(what + ". So do the other benches: look at the disc, or at the units, before the bench.");
    else if (check != nullptr && check->change && (check->change->shift() < 0) == (one.change->shift() < 0))
      told.push_back(what + ". Its check unit says the same.");
    else if (check != nullptr && check->charts && !check->change)
      told.push_back(what +
                     ". Its check unit does not show it: the units are others, or whoever measures does it "
                     "otherwise.");
    else
      told.push_back(what + ". Units differ: measure a check unit there to be sure that it is the bench.");
  }
}

void tell_operators(const Workshop& workshop, std::vector<std::string>& told) {
  if (!workshop.operators) return;
  const auto& [result, off, centre] = *workshop.operators;
  const Scale scale{centre, std::sqrt(result.within_squares / result.within_degrees), workshop.unit};
  for (const auto& one : off)
    told.push_back(fmt::format("{} reads {} {} than the others at the same benches (± {}; {}). {}", one.name,
                               amount_text(one.difference, scale), one.difference < 0 ? "lower" : "higher",
                               amount_text(one.half_width, scale), counted(one.count, "reading"),
                               result.groups.size() == 2
                                   ? "Which of the two does it otherwise, these readings do not tell."
                                   : "Watch how the measurement is done."));
  for (const auto& one : result.groups)
    if (one.scatter_p < 0.01)
      told.push_back(
          fmt::format("Readings by {} scatter more than those of the others (standard deviation {}; {}). "
                      "Is the player given time to settle?",
                      one.name, amount_text(one.sd, scale), counted(one.count, "reading")));
}

void tell_lots(const Workshop& workshop, std::vector<std::string>& told) {
  if (!workshop.lots) return;
  const auto& [result, off, centre] = *workshop.lots;
  const Scale scale{centre, std::sqrt(result.within_squares / result.within_degrees), workshop.unit};
  for (const auto& one : off)
    told.push_back(
        fmt::format("Units with a pickup of {} read {} {} than the others at the same benches (± {}; {}). "
                    "Look at what they have in common before turning the trimmer of another one.",
                    one.name, amount_text(one.difference, scale), one.difference < 0 ? "lower" : "higher",
                    amount_text(one.half_width, scale), counted(one.count, "reading")));
}

void tell_yields(const std::vector<Yield>& list, const std::string& what, std::vector<std::string>& told,
                 std::string_view counts = "judged run") {
  for (const Apart& one : apart(list)) {
    const auto range = *one.one->range();
    told.push_back(fmt::format("{}{}: {:.1f} % of {} pass ({:.1f} % to {:.1f} %), of all others {:.1f} %.", what,
                               one.one->of.empty() ? "(not said)" : one.one->of, 100 * *one.one->share(),
                               counted(one.one->judged(), counts), 100 * range.low, 100 * range.high,
                               100 * one.others));
  }
}

void tell_capability(const Workshop& workshop, std::vector<std::string>& told) {
  constexpr std::size_t least = 10;  // below, the interval is no more than a guess
  for (const Capable& one : workshop.capable)
    if (one.count >= least && one.figures.nearest_range.high < 1)
      told.push_back(fmt::format(
          "{} of {} does not lie well within {}: {:.3g} {} on average, standard deviation "
          "{:.2g} {}; {:.2f} ({:.2f} to {:.2f}) where 1.33 is wanted.",
          workshop.reading, one.model, limit_text(one.limit, workshop.unit), one.mean, workshop.unit, one.sd,
          workshop.unit, one.figures.nearest, one.figures.nearest_range.low, one.figures.nearest_range.high));
}

}  // namespace

std::vector<std::string> sentences(const Workshop& workshop) {
  std::vector<std::string> told;
  tell_checks(workshop, told);
  tell_benches(workshop, told);
  tell_operators(workshop, told);
  tell_lots(workshop, told);
  tell_yields(workshop.yields.bench, "", told);
  tell_yields(workshop.yields.who, "Runs by ", told);
  tell_yields(workshop.yields.lot, "Pickups of ", told, "judged unit");
  tell_yields(workshop.yields.week, "Week of ", told);
  tell_capability(workshop, told);
  const bool has_looked = workshop.yields.all.judged() > 0 || workshop.readings > 0;
  if (!has_looked)
    told.emplace_back("There is nothing to tell from: no judged run and no such reading.");
  else if (told.empty())
    told.emplace_back("Nothing stands out: no bench, operator or week differs from the others by more than chance.");
  return told;
}

}  // namespace eyelevel::report::workshop
