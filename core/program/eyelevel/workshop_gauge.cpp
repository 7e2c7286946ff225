// SPDX-License-Identifier: Apache-2.0
// `eyelevel workshop gauge`: a gauge study planned, and reported from the runs that followed the plan.
#include <fmt/format.h>

#include <memory>
#include <random>

#include "core/base/error.hpp"
#include "core/program/eyelevel/book_options.hpp"
#include "core/program/eyelevel/workshop.hpp"
#include "core/program/output.hpp"
#include "core/program/store_place.hpp"
#include "core/record/books/names.hpp"
#include "core/record/find_readings.hpp"
#include "core/report/workshop/gauge_plan.hpp"
#include "core/report/workshop/gauge_report.hpp"

namespace eyelevel::program {

namespace {

namespace workshop = report::workshop;
namespace json = boost::json;
using base::Error;
using base::ErrorCode;

struct GaugeOptions : BookOptions {
  bool plan = false;
  bool report = false;
  std::vector<std::string> units;
  std::vector<std::string> operators;
  std::vector<std::string> benches;
  std::size_t repeats = 3;
  std::optional<std::uint64_t> seed;
  std::string reading;
  std::string since;
  std::string until;
};

workshop::GaugeParts parts_of(const GaugeOptions& options) {
  if (options.operators.empty() == options.benches.empty())
    throw Error(ErrorCode::bad_input, "who is compared? either operators or benches",
                "name them with --operators anna,ben or with --benches one,two");
  workshop::GaugeParts parts;
  for (const std::string& unit : options.units) parts.units.push_back(record::required_name("--units", unit));
  parts.by = options.benches.empty() ? workshop::By::operators : workshop::By::benches;
  for (const std::string& who : options.benches.empty() ? options.operators : options.benches)
    parts.who.push_back(record::required_name(options.benches.empty() ? "--operators" : "--benches", who));
  parts.repeats = options.repeats;
  return parts;
}

int print_plan(const GaugeOptions& options) {
  const auto parts = parts_of(options);
  const std::uint64_t seed = options.seed.value_or(std::random_device{}());
  const auto jobs = workshop::plan_gauge(parts, seed);
  if (!options.as_json) {
    put(stderr, fmt::format("Seed {}: --seed {} gives the same order again.\n", seed, seed));
    fmt::print("{}", workshop::plan_csv(jobs, parts.by));
    return all_met;
  }
  json::array list;
  for (const workshop::GaugeJob& job : jobs)
    list.push_back(json::object{{"order", job.place},
                                {"unit", or_null(job.unit)},
                                {json::string_view(workshop::name_of(parts.by)), or_null(job.who)},
                                {"repeat", job.repeat}});
  tell(options, json::object{{"seed", seed}, {"jobs", std::move(list)}}, {});
  return all_met;
}

int print_report(const GaugeOptions& options) {
  const auto parts = parts_of(options);
  if (options.reading.empty())
    throw Error(ErrorCode::bad_input, "which reading is studied?", "name it with --reading level_pressed");
  record::ReadingQuery query;
  query.name = options.reading;
  if (!options.since.empty()) query.since = day_of_option("--since", options.since);
  if (!options.until.empty()) query.until = day_of_option("--until", options.until) + std::chrono::days(1);
  const auto store = open_store_to_read(options.store);
  // Unit by unit: each has few readings, the store may have many.
  std::vector<record::ReadingRow> rows;
  for (const std::string& unit : parts.units) {
    query.serial = unit;
    query.at_most = 10'000;
    for (record::ReadingRow& row : record::find_readings(*store, query)) rows.push_back(std::move(row));
  }
  const auto report = workshop::report_gauge(rows, parts);
  auto lines = workshop::gauge_sentences(report, parts.by);
  lines.emplace_back();
  for (const std::string& line : workshop::gauge_table(report, parts.by)) lines.push_back(line);
  tell(options, workshop::to_json(report, parts.by), lines);
  return report.study.verdict == metrology::study::GaugeVerdict::not_usable ? not_met : all_met;
}

int gauge(const GaugeOptions& options) {
  if (options.plan == options.report)
    throw Error(ErrorCode::bad_input, "a gauge study is either planned or reported",
                "say --plan first; when its jobs are done, the same words with --report");
  return options.plan ? print_plan(options) : print_report(options);
}

}  // namespace

void add_workshop_gauge(CLI::App* app, Chosen& chosen) {
  auto options = std::make_shared<GaugeOptions>();
  auto* command = app->add_subcommand("gauge", "A gauge study: is the measurement good enough for the limits?");
  command->footer(
      "Examples:\n"
      "  eyelevel workshop gauge --plan --units LF2-1,LF2-2,LF2-3 --operators anna,ben --repeats 3\n"
      "  eyelevel workshop gauge --report --units LF2-1,LF2-2,LF2-3 --operators anna,ben --repeats 3 --reading "
      "level_pressed");
  add_store_options(command, *options);
  command->add_flag("--plan", options->plan, "print the jobs in random order, as CSV or with --json");
  command->add_flag("--report", options->report, "find the runs of these jobs and say what they show");
  command->add_option("--units", options->units, "serials of the units, with commas; ten are usual")
      ->delimiter(',')
      ->required();
  command->add_option("--operators", options->operators, "who measures, with commas; three are usual")->delimiter(',');
  command->add_option("--benches", options->benches, "instead of operators: the benches to compare")->delimiter(',');
  command->add_option("--repeats", options->repeats, "how often each measures each unit (usual: 3)")
      ->check(not_negative);
  command->add_option("--seed", options->seed, "of the order; usual: a fresh one, printed")->check(not_negative);
  command->add_option("--reading", options->reading, "the reading that is studied");
  command->add_option("--since", options->since, "only runs begun on this day (UTC, 2030-01-07) or later");
  command->add_option("--until", options->until, "only runs begun on this day or before");
  command->callback([options, &chosen] { chosen = [options] { return gauge(*options); }; });
}

}  // namespace eyelevel::program
