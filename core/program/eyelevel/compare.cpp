// SPDX-License-Identifier: Apache-2.0
// `eyelevel compare RUN RUN`: what changed between two runs, and how sure that is.
#include <fmt/format.h>

#include "core/base/error.hpp"
#include "core/program/eyelevel/book_options.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/output.hpp"
#include "core/program/store_place.hpp"
#include "core/record/books/names.hpp"
#include "core/report/compare.hpp"
#include "core/report/words.hpp"

namespace eyelevel::program {

namespace {

using record::shown;

struct CompareOptions : BookOptions {
  std::string a;
  std::string b;
  bool anyway = false;
};

void require_comparable(const report::Comparison& comparison) {
  if (!comparison.is_forbidden()) return;
  std::string what;
  for (const report::Unlike& one : comparison.unlike)
    if (one.forbids) what += (what.empty() ? "" : "; ") + report::unlike_text(one);
  throw base::Error(base::ErrorCode::bad_input,
                    fmt::format("runs {} and {} do not measure the same: {}", comparison.a.id, comparison.b.id, what),
                    "compare runs of one model and one sequence, or say --anyway");
}

std::string value_or(const std::optional<metrology::Reading>& reading, const char* words) {
  return reading ? report::value_text(*reading) : words;
}

std::vector<std::string> lines_of(const report::Comparison& comparison) {
  std::vector<std::string> lines;
  for (const record::RunSummary* run : {&comparison.a, &comparison.b})
    lines.push_back(fmt::format("{}  {}  {}  {}", run->id, report::time_text(run->begun), shown(run->serial),
                                shown(run->sequence)));
  for (const report::Unlike& one : comparison.unlike) lines.push_back("differs: " + report::unlike_text(one));
  lines.push_back(
      fmt::format("{:<24} {:<22} {:<22} {:<24} {}", "reading", comparison.a.id, comparison.b.id, "second - first", ""));
  for (const report::ReadingPair& pair : comparison.pairs)
    lines.push_back(fmt::format("{:<24} {:<22} {:<22} {:<24} {}", shown(pair.name, 24), value_or(pair.a, "-"),
                                value_or(pair.b, "-"), value_or(pair.difference, "-"),
                                !pair.difference   ? "cannot be compared"
                                : pair.is_beyond() ? "changed"
                                                   : "no change beyond the uncertainty"));
  return lines;
}

int compare(const CompareOptions& options) {
  const auto store = open_store_to_read(options.store);
  const auto comparison = report::compare(record::read_run(*store, options.a), record::read_run(*store, options.b));
  if (!options.anyway) require_comparable(comparison);
  if (!comparison.unlike.empty() && options.as_json)
    put(stderr, fmt::format("eyelevel: the two runs differ in {} things beside what was measured: see `unlike`\n",
                            comparison.unlike.size()));
  tell(options, report::comparison_json(comparison), lines_of(comparison));
  return all_met;
}

}  // namespace

void add_compare(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<CompareOptions>();
  auto* command = subcommand(app, "compare", "Two runs side by side, each difference with its uncertainty",
                             "eyelevel compare 2030-01-07-3 last");
  command->add_option("first", options->a, "a run's id as `eyelevel records` lists it")->required();
  command->add_option("second", options->b, "another one, or: last")->required();
  command->add_flag("--anyway", options->anyway, "although model or sequence differ");
  add_store_options(command, *options);
  command->callback([options, &chosen] { chosen = [options] { return compare(*options); }; });
}

}  // namespace eyelevel::program
