// SPDX-License-Identifier: Apache-2.0
// `eyelevel workshop`: what all runs say together, of benches, operators and readings.
#include "core/program/eyelevel/workshop.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <memory>
#include <set>
#include <span>
#include <utility>

#include "core/base/error.hpp"
#include "core/program/eyelevel/book_options.hpp"
#include "core/program/output.hpp"
#include "core/program/store_place.hpp"
#include "core/record/books/names.hpp"
#include "core/record/books/reference_book.hpp"
#include "core/record/find_readings.hpp"
#include "core/record/find_runs.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/report/export.hpp"
#include "core/report/sheet.hpp"
#include "core/report/workshop/json.hpp"
#include "core/report/workshop/picture.hpp"
#include "core/report/workshop/sentences.hpp"
#include "core/report/workshop/tables.hpp"

namespace eyelevel::program {

namespace {

namespace workshop = report::workshop;
using base::Error;
using base::ErrorCode;

// More make no chart clearer, and the page slow.
constexpr std::size_t readings_most = 10'000;

struct WorkshopOptions : BookOptions {
  std::string since;
  std::string until;
  std::string model;
  std::string bench;
  std::string sequence;
  std::string reading;
  std::string check_unit;
  std::string output;
};

// Without --since the last half year of runs, for a page that tells of now.
base::UtcTime usual_since(record::Store& store, const std::optional<base::UtcTime>& until) {
  record::RunQuery newest;
  newest.until = until;
  newest.at_most = 1;
  const auto runs = store.runs(newest);
  const base::UtcTime last = runs.empty() ? until.value_or(utc_now()) : runs.front().begun;
  return std::chrono::floor<std::chrono::days>(last) - std::chrono::weeks(26);
}

record::ReadingQuery readings_of(record::Store& store, const WorkshopOptions& options) {
  record::ReadingQuery query;
  if (!options.model.empty()) query.model = options.model;
  if (!options.bench.empty()) query.bench = options.bench;
  if (!options.until.empty()) query.until = day_of_option("--until", options.until) + std::chrono::days(1);
  query.since = options.since.empty() ? usual_since(store, query.until) : day_of_option("--since", options.since);
  if (query.until && *query.since >= *query.until)
    throw Error(ErrorCode::bad_input, fmt::format("--since {} is after --until {}", options.since, options.until),
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

std::vector<record::Tally> tallies_of(record::Store& store, const WorkshopOptions& options, base::UtcTime since) {
  record::TallyQuery query;
  query.since_day = record::utc_text(since).substr(0, 10);
  if (!options.until.empty()) query.until_day = options.until;
  auto tallies = record::find_tallies(store, query);
  if (!options.check_unit.empty()) {
    record::RunQuery of_check;
    of_check.serial = options.check_unit;
    of_check.from = since;
    of_check.at_most = readings_most;
    workshop::leave_out(tallies, record::find_runs(store, of_check));
  }
  const auto is_other = [](const std::string& asked, const std::string& is) { return !asked.empty() && asked != is; };
  std::erase_if(tallies, [&](const record::Tally& t) {
    return is_other(options.model, t.model) || is_other(options.bench, t.bench) ||
           is_other(options.sequence, t.sequence);
  });
  return tallies;
}

std::vector<record::ReadingRow> rows_of(record::Store& store, const WorkshopOptions& options,
                                        record::ReadingQuery query, const std::string& reading) {
  if (reading.empty()) return {};
  query.name = reading;
  auto rows = record::find_readings(store, query);
  if (rows.size() == readings_most)
    put(stderr, fmt::format("The newest {} readings of {}; narrow them down with --since, --model or --bench\n",
                            readings_most, record::shown(reading)));
  if (!options.sequence.empty()) std::erase_if(rows, [&](const auto& row) { return row.sequence != options.sequence; });
  if (rows.empty() && !options.reading.empty())
    throw Error(ErrorCode::not_found, fmt::format("there is no reading {} among these runs", record::shown(reading)),
                "eyelevel report RUN shows which readings a run has");
  return rows;
}

std::optional<double> middle_of(const record::ReferenceSet& set) {
  if (set.mean) return set.mean;
  if (!set.limit.at_least || !set.limit.at_most) return std::nullopt;
  return (*set.limit.at_least + *set.limit.at_most) / 2;
}

// What each model should read. Where the books have several for different discs or settings, the readings do not say
// which is meant, and their own mean serves.
std::map<std::string, double> references_of(record::Store& store, std::span<const record::ReadingRow> rows) {
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
    const auto* standing = record::standing_reference(all, model, rows.front().name, disc, setting, today());
    if (of_model.size() != 1 || standing == nullptr) continue;
    if (const auto middle = middle_of(standing->said)) middles[model] = *middle;
  }
  return middles;
}

int page(const WorkshopOptions& options) {
  if (!options.output.empty()) report::format_of(options.output);  // refused before the work
  const auto store = open_store_to_read(options.store);
  const auto query = readings_of(*store, options);
  const std::string reading = options.reading.empty() ? usual_reading(*store, query) : options.reading;
  const auto rows = rows_of(*store, options, query, reading);
  const auto seen = workshop::workshop_of(tallies_of(*store, options, *query.since), rows,
                                          {reading, options.check_unit, references_of(*store, rows)},
                                          record::pickups_of(store->book({})));
  if (!options.output.empty())
    report::write_file(options.output, workshop::chart_picture(report::format_of(options.output), seen));
  std::vector<std::string> lines = workshop::sentences(seen);
  lines.push_back(fmt::format("Of runs since {}{}.", record::utc_text(*query.since).substr(0, 10),
                              options.since.empty() ? "; --since names another day" : ""));
  lines.emplace_back();
  for (const std::string& line : workshop::tables(seen)) lines.push_back(line);
  if (!options.output.empty()) lines.push_back("Charts: " + options.output);
  auto told = workshop::to_json(seen);
  told["since_utc"] = utc_json(query.since);
  told["file"] = or_null(options.output);
  tell(options, told, lines);
  return all_met;
}

}  // namespace

void add_workshop(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<WorkshopOptions>();
  auto* command = subcommand(app, "workshop", "What all runs say together: yield, drift, operators, capability",
                             "eyelevel workshop --since 2030-01-07 --reading level_pressed --check-unit LF2-CHECK");
  add_store_options(command, *options);
  command->add_option("--since", options->since,
                      "only runs begun on this day (UTC, 2030-01-07) or later; usual: the last 26 weeks");
  command->add_option("--until", options->until, "only runs begun on this day or before");
  command->add_option("--model", options->model, "only units of this model");
  command->add_option("--bench", options->bench, "only on this bench");
  command->add_option("--sequence", options->sequence, "only runs of this sequence");
  command->add_option("--reading", options->reading,
                      "the reading to chart; usual: the one that is judged most often in the newest runs");
  command->add_option("--check-unit", options->check_unit,
                      "serial of the unit that is measured on every bench to compare them, with the transfer disc");
  command->add_option("-o,--output", options->output, "the charts as a file that ends in .png, .pdf or .svg");
  command->require_subcommand(0, 1);
  add_workshop_gauge(command, chosen);
  add_workshop_unit(command, chosen);
  command->callback([options, command, &chosen] {
    if (command->get_subcommands().empty()) chosen = [options] { return page(*options); };
  });
}

}  // namespace eyelevel::program
