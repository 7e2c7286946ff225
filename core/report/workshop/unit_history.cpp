// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/unit_history.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/json/array.hpp>
#include <boost/json/string.hpp>
#include <chrono>
#include <cmath>
#include <map>

#include "core/quantity/counted.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/report/words.hpp"

namespace eyelevel::report::workshop {

namespace json = boost::json;
namespace trend = metrology::trend;
using quantity::counted;

namespace {

constexpr double level_stays_within = 0.10;  // of the newest one: a turned trimmer changes the current, too
constexpr double few_hours = 100;            // no laser wears out in them

double years_since(base::UtcTime begin, base::UtcTime at) {
  return std::chrono::duration<double, std::ratio<31556952>>(at - begin).count();
}

std::optional<double> hours_at(const std::vector<HoursTold>& told, base::UtcTime at) {
  std::optional<double> hours;
  for (const HoursTold& one : told)
    if (one.utc <= at) hours = one.hours;
  return hours;
}

}  // namespace

std::vector<HoursTold> hours_of(const record::UnitBook& unit) {
  std::vector<HoursTold> told;
  if (unit.pickup && (!unit.pickup->unit_h || !unit.pickup->pickup_h)) return told;
  if (unit.pickup) told.push_back({unit.pickup->since, *unit.pickup->pickup_h});
  for (const record::Visit& visit : unit.visits) {
    if (!visit.unit_h || (unit.pickup && visit.taken_in < unit.pickup->since)) continue;
    const double hours = unit.pickup ? *unit.pickup->pickup_h + *visit.unit_h - *unit.pickup->unit_h : *visit.unit_h;
    // A counter that went back tells nothing of the pickup.
    if (told.empty() || hours >= told.back().hours) told.push_back({visit.taken_in, hours});
  }
  return told;
}

namespace {

void fit_trend(Track& track) {
  std::vector<double> hours, of_hours, years, values;
  for (const Past& past : track.past) {
    values.push_back(past.value);
    years.push_back(years_since(track.past.front().at, past.at));
    if (past.hours) hours.push_back(*past.hours), of_hours.push_back(past.value);
  }
  const auto fit = [&](const std::vector<double>& x, const std::vector<double>& y) {
    const bool is_enough =
        x.size() >= 3 && std::any_of(x.begin(), x.end(), [&](double one) { return one != x.front(); });
    if (is_enough) track.trend = trend::fit_line(x, y);
    return is_enough;
  };
  track.is_over_hours = fit(hours, of_hours);
  if (!track.is_over_hours) fit(years, values);
}

std::vector<Track> tracks_of(std::span<const record::ReadingRow> rows, const UnitFacts& facts) {
  std::map<std::pair<std::string, std::string>, Track> tracks;
  for (auto row = rows.rbegin(); row != rows.rend(); ++row) {
    if (facts.pickup_since && row->begun < *facts.pickup_since) continue;
    Track& track = tracks[{row->name, row->unit}];
    track.name = row->name;
    track.unit = row->unit;
    track.past.push_back({row->begun, row->run, hours_at(facts.hours, row->begun), row->value,
                          row->expanded_uncertainty, row->limit, row->judgement});
  }
  std::vector<Track> list;
  for (auto& [key, track] : tracks) {
    fit_trend(track);
    list.push_back(std::move(track));
  }
  return list;
}

// The named one, or the only one that fits.
template <class Fits>
const Track* track_of(const std::vector<Track>& tracks, const std::string& name, Fits fits) {
  const Track* found = nullptr;
  for (const Track& track : tracks) {
    if (name.empty() ? !fits(track) : track.name != name) continue;
    if (found != nullptr) return nullptr;
    found = &track;
  }
  return found;
}

const Track* level_of(const UnitHistory& history) {
  return track_of(history.tracks, history.facts.level_name,
                  [](const Track& t) { return t.unit == "V" && t.name.find("level") != std::string::npos; });
}

const Track* current_of(const UnitHistory& history) {
  return track_of(history.tracks, history.facts.current_name, [](const Track& t) { return t.unit == "A"; });
}

// Currents with their hours, of runs whose level was about what it is now.
struct AtConstantLevel {
  std::vector<double> hours, currents;
  std::size_t without_hours = 0, at_other_level = 0;
};

AtConstantLevel at_constant_level(const Track& current, const Track* level) {
  std::map<std::string, double> levels;
  if (level != nullptr)
    for (const Past& past : level->past) levels[past.run] = past.value;
  AtConstantLevel kept;
  for (const Past& past : current.past) {
    if (!past.hours) {
      ++kept.without_hours;
      continue;
    }
    const auto then = levels.find(past.run);
    const double now = level == nullptr ? 0 : level->past.back().value;
    if (then != levels.end() && std::abs(then->second - now) > level_stays_within * std::abs(now)) {
      ++kept.at_other_level;
      continue;
    }
    kept.hours.push_back(*past.hours);
    kept.currents.push_back(past.value);
  }
  return kept;
}

std::string milliamperes(double a) { return fmt::format("{:.3g} mA", 1e3 * a); }

std::string life_sentence(const trend::Life& life, const UnitFacts& facts, double hours_now) {
  const std::string limit = fmt::format("{} ({})", milliamperes(*facts.current_limit_a), facts.limit_from);
  switch (life.answer) {
    case trend::LifeAnswer::too_few: return fmt::format("Life is not known: {}.", life.notes.front());
    case trend::LifeAnswer::no_trend:
      return "Life is not known: the laser's current shows no trend that can be told from its scatter.";
    case trend::LifeAnswer::moving_away: return "Life is not known: the laser's current moves away from its limit.";
    case trend::LifeAnswer::known: break;
  }
  const double left = life.hours_to_limit - hours_now;
  if (left <= 0)
    return fmt::format(
        "The laser's current has come to its limit of {}: it is at {:.0f} h, the line met the limit at "
        "{:.0f} h ({:.0f} h to {:.0f} h).",
        limit, hours_now, life.hours_to_limit, life.of_mean.low, life.of_mean.high);
  return fmt::format(
      "The laser's current comes to its limit of {} at about {:.0f} h, in {:.0f} h from now; the next "
      "readings may lie beyond it from {:.0f} h on, and will from {:.0f} h ({:.0f} %).",
      limit, life.hours_to_limit, left, life.of_next_reading.low, life.of_next_reading.high, 100 * life.probability);
}

void tell_life(UnitHistory& history) {
  const UnitFacts& facts = history.facts;
  auto& told = history.sentences;
  if (!facts.has_power_loop) {
    told.emplace_back("Life is not known: nobody said whether this model has a power loop.");
    return;
  }
  if (!*facts.has_power_loop) {
    told.emplace_back(
        "Life is not known: without a power loop the level falls with wear, warmth, dirt and setting "
        "alike, and the current tells nothing.");
    return;
  }
  const Track* current = current_of(history);
  if (current == nullptr) {
    told.emplace_back("Life is not known: no reading of the laser's current, or several and none was named.");
    return;
  }
  if (!facts.current_limit_a) {
    told.emplace_back("Life is not known: neither the pickup's label current nor a limit of the current is known.");
    return;
  }
  const AtConstantLevel kept = at_constant_level(*current, level_of(history));
  history.life = trend::life_to_limit(kept.hours, kept.currents, *facts.current_limit_a);
  told.push_back(life_sentence(*history.life, facts, kept.hours.empty() ? 0 : kept.hours.back()));
  if (history.life->answer == trend::LifeAnswer::known)
    for (const std::string& note : history.life->notes) told.push_back("Note: " + note + ".");
  if (kept.without_hours > 0)
    told.push_back(
        fmt::format("Note: {} of the current without known hours left out.", counted(kept.without_hours, "reading")));
  if (kept.at_other_level > 0)
    told.push_back(fmt::format("Note: {} of the current at a level more than 10 % from today's left out.",
                               counted(kept.at_other_level, "reading")));
}

void tell_setting(UnitHistory& history) {
  const Track* level = level_of(history);
  if (level == nullptr) return;
  const Past& now = level->past.back();
  const bool is_high = now.limit && now.limit->at_most && now.value > *now.limit->at_most;
  if (!is_high || !now.hours || *now.hours > few_hours) return;
  history.sentences.push_back(fmt::format("{} is too high ({}) after only {:.0f} h: that is a setting, not wear.",
                                          level->name, value_text(now.value, now.expanded_uncertainty, level->unit),
                                          *now.hours));
}

}  // namespace

UnitHistory history_of(std::span<const record::ReadingRow> rows, const UnitFacts& facts) {
  UnitHistory history;
  history.facts = facts;
  history.tracks = tracks_of(rows, facts);
  tell_setting(history);
  tell_life(history);
  return history;
}

namespace {

std::string trend_text(const Track& track) {
  if (!track.trend) return "no trend: fewer than three readings at different times";
  const double half = (trend::slope_doubt(*track.trend) < 1) ? 0 : 1;
  const double per = track.is_over_hours ? 1000 : 1;
  const std::string slope =
      fmt::format("{:+.3g} {} {}", track.trend->slope * per, track.unit, track.is_over_hours ? "in 1000 h" : "a year");
  return half > 0 ? slope + ", which may be none" : slope;
}

}  // namespace

std::vector<std::string> history_table(const UnitHistory& history) {
  std::vector<std::string> lines;
  for (const Track& track : history.tracks) {
    lines.push_back(fmt::format("{} ({})", track.name, trend_text(track)));
    for (const Past& past : track.past)
      lines.push_back(fmt::format("  {}  {:>9}  {:<24} {:<10} {}", time_text(past.at),
                                  past.hours ? fmt::format("{:.0f} h", *past.hours) : "-",
                                  value_text(past.value, past.expanded_uncertainty, track.unit),
                                  past.judgement ? record::name_of(*past.judgement) : "", past.run));
  }
  return lines;
}

namespace {

json::value text(std::string_view words) { return json::string(record::clean_utf8(words)); }

template <class T>
json::value or_null(const std::optional<T>& value) {
  return value ? json::value(*value) : json::value(nullptr);
}

json::object track_json(const Track& track) {
  json::array list;
  for (const Past& past : track.past)
    list.push_back(
        json::object{{"utc", text(record::utc_text(past.at))},
                     {"run", text(past.run)},
                     {"pickup_h", or_null(past.hours)},
                     {"value", past.value},
                     {"expanded_uncertainty", past.expanded_uncertainty},
                     {"judgement", past.judgement ? text(record::name_of(*past.judgement)) : json::value(nullptr)}});
  json::object o{{"name", text(track.name)}, {"unit", text(track.unit)}, {"readings", list}, {"trend", nullptr}};
  if (track.trend)
    o["trend"] = json::object{{"per", track.is_over_hours ? "h" : "year"},
                              {"slope", track.trend->slope},
                              {"standard_uncertainty", track.trend->u_slope},
                              {"may_be_none", trend::slope_doubt(*track.trend) >= 1}};
  return o;
}

json::value life_json(const std::optional<trend::Life>& life) {
  if (!life || life->answer != trend::LifeAnswer::known) return nullptr;
  return json::object{{"at_h", life->hours_to_limit},
                      {"level_low_h", life->of_mean.low},
                      {"level_high_h", life->of_mean.high},
                      {"next_reading_low_h", life->of_next_reading.low},
                      {"next_reading_high_h", life->of_next_reading.high},
                      {"coverage_probability", life->probability},
                      {"far", life->is_far}};
}

}  // namespace

json::object to_json(const UnitHistory& history) {
  json::array tracks, told;
  for (const Track& track : history.tracks) tracks.push_back(track_json(track));
  for (const std::string& sentence : history.sentences) told.push_back(text(sentence));
  return {{"serial", text(history.facts.serial)},
          {"model", text(history.facts.model)},
          {"sentences", told},
          {"power_loop", or_null(history.facts.has_power_loop)},
          {"current_limit_a", or_null(history.facts.current_limit_a)},
          {"life", life_json(history.life)},
          {"readings", tracks}};
}

}  // namespace eyelevel::report::workshop
