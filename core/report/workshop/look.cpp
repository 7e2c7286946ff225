// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/look.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <map>
#include <set>
#include <span>
#include <utility>

#include "core/base/error.hpp"
#include "core/record/books/names.hpp"
#include "core/record/books/reference_book.hpp"
#include "core/record/find_readings.hpp"
#include "core/record/find_runs.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/report/workshop/yield.hpp"

namespace eyelevel::report::workshop {

namespace {

using base::Error;
using base::ErrorCode;

std::string day_of(base::UtcTime at) { return record::utc_text(at).substr(0, 10); }

// The last half year of runs, for a page that tells of now.
base::UtcTime usual_since(record::Store& store, const std::optional<base::UtcTime>& until, base::UtcTime now) {
  record::RunQuery newest;
  newest.until = until;
  newest.at_most = 1;
  const auto runs = store.runs(newest);
  const base::UtcTime last = runs.empty() ? until.value_or(now) : runs.front().begun;
  return std::chrono::floor<std::chrono::days>(last) - std::chrono::weeks(26);
}

record::ReadingQuery readings_of(record::Store& store, const Wish& wish, base::UtcTime now) {
  record::ReadingQuery query;
  if (!wish.model.empty()) query.model = wish.model;
  if (!wish.bench.empty()) query.bench = wish.bench;
  query.until = wish.until;
  query.since = wish.since ? *wish.since : usual_since(store, wish.until, now);
  if (query.until && *query.since >= *query.until)
    throw Error(ErrorCode::bad_input,
                fmt::format("{} is no day before the end that is asked for", day_of(*query.since)),
                "exchange the two days");
  query.at_most = readings_most;
  return query;
}

// The one that is judged most often in the newest runs; empty: none is.
std::string usual_reading(record::Store& store, const record::ReadingQuery& query) {
  record::RunQuery newest;
  newest.model = query.model;
  newest.bench = query.bench;
  newest.from = query.since;
  newest.until = query.until;
  newest.at_most = 50;
  std::map<std::string, std::size_t> judged;
  for (const record::RunSummary& run : store.runs(newest)) {
    record::ReadingQuery of_run;
    of_run.run = run.id;
    for (const record::ReadingRow& row : store.readings(of_run))
      if (row.limit) ++judged[row.name];
  }
  const auto most =
      std::max_element(judged.begin(), judged.end(), [](const auto& a, const auto& b) { return a.second < b.second; });
  return most == judged.end() ? "" : most->first;
}

std::vector<record::Tally> tallies_of(record::Store& store, const Wish& wish, base::UtcTime since) {
  record::TallyQuery query;
  query.since_day = day_of(since);
  if (wish.until) query.until_day = day_of(*wish.until - std::chrono::milliseconds(1));
  auto tallies = record::find_tallies(store, query);
  if (!wish.check_unit.empty()) {
    record::RunQuery of_check;
    of_check.serial = wish.check_unit;
    of_check.from = since;
    of_check.at_most = readings_most;
    leave_out(tallies, record::find_runs(store, of_check));
  }
  const auto is_other = [](const std::string& asked, const std::string& is) { return !asked.empty() && asked != is; };
  std::erase_if(tallies, [&](const record::Tally& t) {
    return is_other(wish.model, t.model) || is_other(wish.bench, t.bench) || is_other(wish.sequence, t.sequence);
  });
  return tallies;
}

std::optional<double> middle_of(const record::ReferenceSet& set) {
  if (set.mean) return set.mean;
  if (!set.limit.at_least || !set.limit.at_most) return std::nullopt;
  return (*set.limit.at_least + *set.limit.at_most) / 2;
}

// What each model should read. Where the books have several for different discs or settings, the readings do not say
// which is meant, and their own mean serves.
std::map<std::string, double> references_of(record::Store& store, std::span<const record::ReadingRow> rows,
                                            base::UtcTime now) {
  std::map<std::string, double> middles;
  if (rows.empty()) return middles;
  record::BookQuery of_reading;
  of_reading.concerns = rows.front().name;
  const auto all = record::references_of(store.book(of_reading));
  std::map<std::string, std::set<std::pair<std::string, std::string>>> kinds;
  for (const record::Reference& one : all)
    if (one.reading == rows.front().name && one.said.unit == rows.front().unit)
      kinds[one.model].insert({one.said.disc, one.said.setting});
  for (const auto& [model, of_model] : kinds) {
    const auto& [disc, setting] = *of_model.begin();
    const auto* standing = record::standing_reference(all, model, rows.front().name, disc, setting, day_of(now));
    if (of_model.size() != 1 || standing == nullptr) continue;
    if (const auto middle = middle_of(standing->said)) middles[model] = *middle;
  }
  return middles;
}

}  // namespace

Look look(record::Store& store, const Wish& wish, base::UtcTime now) {
  auto query = readings_of(store, wish, now);
  Look look;
  look.since = *query.since;
  const std::string reading = wish.reading.empty() ? usual_reading(store, query) : wish.reading;
  std::vector<record::ReadingRow> rows;
  if (!reading.empty()) {
    query.name = reading;
    rows = record::find_readings(store, query);
  }
  look.is_cut = rows.size() == readings_most;
  if (!wish.sequence.empty()) std::erase_if(rows, [&](const auto& row) { return row.sequence != wish.sequence; });
  if (rows.empty() && !wish.reading.empty())
    throw Error(ErrorCode::not_found, fmt::format("there is no reading {} among these runs", record::shown(reading)),
                "eyelevel report RUN shows which readings a run has");
  look.seen =
      workshop_of(tallies_of(store, wish, look.since), rows,
                  {reading, wish.check_unit, references_of(store, rows, now)}, record::pickups_of(store.book({})));
  return look;
}

}  // namespace eyelevel::report::workshop
