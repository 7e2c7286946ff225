// SPDX-License-Identifier: Apache-2.0
// `eyelevel workshop`: what all runs say together, of benches, operators and readings.
#include "core/program/eyelevel/workshop.hpp"

#include <fmt/format.h>

#include <chrono>
#include <memory>

#include "core/base/error.hpp"
#include "core/program/eyelevel/book_options.hpp"
#include "core/program/output.hpp"
#include "core/program/store_place.hpp"
#include "core/record/books/names.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/report/export.hpp"
#include "core/report/sheet.hpp"
#include "core/report/workshop/json.hpp"
#include "core/report/workshop/look.hpp"
#include "core/report/workshop/picture.hpp"
#include "core/report/workshop/sentences.hpp"
#include "core/report/workshop/tables.hpp"

namespace eyelevel::program {

namespace {

namespace workshop = report::workshop;
using base::Error;
using base::ErrorCode;

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

workshop::Wish wish_of(const WorkshopOptions& options) {
  workshop::Wish wish{.since = {},
                      .until = {},
                      .model = options.model,
                      .bench = options.bench,
                      .sequence = options.sequence,
                      .reading = options.reading,
                      .check_unit = options.check_unit};
  if (!options.since.empty()) wish.since = day_of_option("--since", options.since);
  if (!options.until.empty()) wish.until = day_of_option("--until", options.until) + std::chrono::days(1);
  if (wish.since && wish.until && *wish.since >= *wish.until)
    throw Error(ErrorCode::bad_input, fmt::format("--since {} is after --until {}", options.since, options.until),
                "exchange the two days");
  return wish;
}

int page(const WorkshopOptions& options) {
  if (!options.output.empty()) report::format_of(options.output);  // refused before the work
  const auto store = open_store_to_read(options.store);
  const auto [seen, since, is_cut] = workshop::look(*store, wish_of(options), utc_now());
  if (is_cut)
    put(stderr, fmt::format("The newest {} readings of {}; narrow them down with --since, --model or --bench\n",
                            workshop::readings_most, record::shown(seen.reading)));
  if (!options.output.empty())
    report::write_file(options.output, workshop::chart_picture(report::format_of(options.output), seen));
  std::vector<std::string> lines = workshop::sentences(seen);
  lines.push_back(fmt::format("Of runs since {}{}.", record::utc_text(since).substr(0, 10),
                              options.since.empty() ? "; --since names another day" : ""));
  lines.emplace_back();
  for (const std::string& line : workshop::tables(seen)) lines.push_back(line);
  if (!options.output.empty()) lines.push_back("Charts: " + options.output);
  auto told = workshop::to_json(seen);
  told["since_utc"] = utc_json(since);
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
