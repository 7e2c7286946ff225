// SPDX-License-Identifier: Apache-2.0
// `eyelevel records`: what has been measured, newest first, or moved to another store; `eyelevel report RUN`: the sheet
// of one run; `eyelevel export RUN`: its readings, events and captures as files for other programs.
#include <fmt/format.h>

#include <boost/asio/io_context.hpp>
#include <boost/json.hpp>
#include <memory>
#include <tuple>

#include "core/base/error.hpp"
#include "core/program/daemon_client/client.hpp"
#include "core/program/eyelevel/book_options.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/eyelevel/records.hpp"
#include "core/program/output.hpp"
#include "core/program/store_place.hpp"
#include "core/record/archive/archive.hpp"
#include "core/record/books/names.hpp"
#include "core/record/find_runs.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/record/move_runs.hpp"
#include "core/record/run_record.hpp"
#include "core/report/export.hpp"
#include "core/report/label.hpp"
#include "core/report/run_json.hpp"
#include "core/report/sheet.hpp"
#include "core/report/words.hpp"

namespace eyelevel::program {
namespace {

namespace json = boost::json;

struct Options {
  DaemonOptions daemon;
  std::string store;
  std::string run;
  std::string serial;
  std::string model;
  std::string sequence;
  std::string bench;
  std::string operator_name;
  std::string judgement;
  std::string from;
  std::string until;
  std::string output;
  std::string archive;
  std::string eye_of;
  std::string label;
  std::size_t at_most = 20;
  bool as_json = false;
};

metrology::Judgement judgement_named(const std::string& word) {
  using metrology::Judgement;
  for (const auto judgement : {Judgement::pass, Judgement::fail, Judgement::undecided})
    if (record::name_of(judgement) == word) return judgement;
  throw base::Error(base::ErrorCode::bad_input, fmt::format("--judgement: \"{}\" is none", record::shown(word)),
                    "pass, fail or undecided");
}

record::RunQuery query_of(const Options& options) {
  record::RunQuery query;
  const auto only = [](std::optional<std::string>& asked, const std::string& given) {
    if (!given.empty()) asked = given;
  };
  only(query.serial, options.serial);
  only(query.model, options.model);
  only(query.sequence, options.sequence);
  only(query.bench, options.bench);
  only(query.operator_name, options.operator_name);
  if (!options.judgement.empty()) query.judgement = judgement_named(options.judgement);
  if (!options.from.empty()) query.from = day_of_option("--from", options.from);
  if (!options.until.empty()) query.until = day_of_option("--until", options.until) + std::chrono::days(1);
  if (query.from && query.until && *query.from >= *query.until)
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("--from {} is after --until {}", options.from, options.until),
                      "exchange the two days");
  return query;
}

struct Listed {
  std::string place;  // where they are
  std::vector<record::RunSummary> runs;
};

// One more than are to be shown tells whether there are more.
Listed runs_of_store(const Options& options, record::RunQuery query) {
  const auto store = open_store_to_read(options.store);
  query.at_most = options.at_most + 1;
  return {store->name(), record::find_runs(*store, query)};
}

// As report::summary_json writes it.
record::RunSummary summary_of(const json::value& run) {
  const auto text = [&](const char* key) {
    const auto& value = run.at(key);
    return value.is_null() ? std::string() : json::value_to<std::string>(value);
  };
  record::RunSummary summary;
  summary.id = text("run");
  summary.begun = record::utc_from_text(text("begun_utc"));
  if (const auto closed = text("closed_utc"); !closed.empty()) summary.closed = record::utc_from_text(closed);
  summary.sequence = text("sequence");
  summary.serial = text("serial");
  summary.model = text("model");
  summary.bench = text("bench");
  summary.operator_name = text("operator");
  summary.ended = text("ended");
  if (const auto word = text("judgement"); !word.empty()) summary.judgement = judgement_named(word);
  summary.program = text("program");
  return summary;
}

task<> ask_for_runs(DaemonClient& client, std::string target, json::value& into) {
  into = co_await client.done("GET", std::move(target));
}

Listed runs_of_daemon(const Options& options) {
  if (!options.model.empty() || !options.operator_name.empty() || !options.judgement.empty() || !options.from.empty() ||
      !options.until.empty())
    throw base::Error(base::ErrorCode::bad_input, "a daemon lists runs by serial, sequence and bench only",
                      "name its store with --store instead");
  boost::asio::io_context loop(1);
  const auto timeline = base::wall_timeline(loop);
  DaemonClient client(*timeline, daemon_place(options.daemon));
  auto target = fmt::format("/api/1/runs?at_most={}", options.at_most + 1);
  if (!options.serial.empty()) target += "&serial=" + encoded(options.serial);
  if (!options.sequence.empty()) target += "&sequence=" + encoded(options.sequence);
  if (!options.bench.empty()) target += "&bench=" + encoded(options.bench);
  json::value answer;
  timeline->run(ask_for_runs(client, target, answer));
  Listed listed{"the daemon at " + client.url(), {}};
  for (const auto& run : answer.at("runs").as_array()) listed.runs.push_back(summary_of(run));
  return listed;
}

int records(const Options& options) {
  auto [place, runs] = options.daemon.url.empty() ? runs_of_store(options, query_of(options)) : runs_of_daemon(options);
  const bool more = runs.size() > options.at_most;
  if (more) {
    runs.resize(options.at_most);
    put(stderr, fmt::format("The newest {} runs; there are older ones: --at-most\n", options.at_most));
  }
  if (options.as_json) {
    json::array list;
    for (const auto& run : runs) list.push_back(report::summary_json(run));
    fmt::print("{}\n", json::serialize(list));
    return all_met;
  }
  if (runs.empty()) {
    fmt::print("No such runs in {}.\n", place);
    return all_met;
  }
  fmt::print("{}\n", run_heading());
  for (const auto& run : runs) fmt::print("{}\n", run_line(run));
  return all_met;
}

int move_records(const Options& options) {
  const auto from = open_store_to_read(options.store);
  const auto to = open_store_to_write(options.output);
  if (from->name() == to->name())
    throw base::Error(base::ErrorCode::bad_input, from->name() + " is both where the runs are and where they are to go",
                      "name another store as the second one");
  const auto [moved, left] = record::move_runs(*from, *to);
  if (options.as_json)
    fmt::print("{}\n", json::serialize(json::object{{"moved", moved}, {"left", left}}));
  else
    fmt::print("{} runs are in {} now{}.\n", moved, to->name(),
               left == 0 ? "" : fmt::format("; {} that are not closed stayed in {}", left, from->name()));
  return all_met;
}

int label(const Options& options) {
  const report::Format format = report::format_of(options.label);  // refused before the work
  const auto store = open_store_to_read(options.store);
  const auto run = record::read_run(*store, options.run);
  report::write_file(options.label, report::draw_label(run, format));
  if (options.as_json)
    fmt::print("{}\n", json::serialize(json::object{{"run", run.summary.id}, {"files", json::array{options.label}}}));
  else
    fmt::print("{}\n", options.label);
  return all_met;
}

int sheet(const Options& options) {
  const auto store = open_store_to_read(options.store);
  const auto run = record::read_run(*store, options.run);
  std::vector<std::string> paths;
  if (options.output.empty())
    paths = {run.summary.id + ".png", run.summary.id + ".pdf"};
  else
    paths = {options.output};
  for (const auto& path : paths) report::format_of(path);  // refused before the work
  const auto content = report::gather_sheet(*store, run, options.eye_of);
  json::array written;
  for (const auto& path : paths) {
    report::write_sheet(content, path);
    written.emplace_back(path);
    if (!options.as_json) fmt::print("{}\n", path);
  }
  if (options.as_json) fmt::print("{}\n", json::serialize(json::object{{"run", run.summary.id}, {"files", written}}));
  return all_met;
}

// The runs that were asked for, or all of the store.
std::vector<record::RunSummary> runs_to_export(record::Store& store, const Options& options) {
  if (!options.run.empty()) return {record::read_run(store, options.run).summary};
  auto query = query_of(options);
  query.at_most = static_cast<std::size_t>(-1);
  return record::find_runs(store, query);
}

bool is_all(const Options& options) {
  return options.run.empty() && options.serial.empty() && options.model.empty() && options.sequence.empty() &&
         options.bench.empty() && options.operator_name.empty() && options.judgement.empty() && options.from.empty() &&
         options.until.empty();
}

int export_archive(const Options& options) {
  const auto store = open_store_to_read(options.store);
  const auto runs = runs_to_export(*store, options);
  const auto entries = is_all(options) ? store->book({}) : record::entries_of_runs(*store, runs);
  const auto count = record::write_archive(options.archive, *store, runs, entries);
  if (options.as_json)
    fmt::print("{}\n",
               json::serialize(json::object{
                   {"file", options.archive}, {"runs", count.runs}, {"entries", count.entries}, {"left", count.left}}));
  else
    fmt::print("{}: {} runs, {} entries of the books{}\n", options.archive, count.runs, count.entries,
               count.left == 0 ? "" : fmt::format("; {} runs that are not closed were left out", count.left));
  return all_met;
}

int export_files(const Options& options) {
  if (!options.archive.empty()) return export_archive(options);
  if (options.run.empty())
    throw base::Error(
        base::ErrorCode::bad_input, "which run? nothing was written",
        "name one as `eyelevel records` lists it, or: last; several go into one file with --archive FILE");
  const auto store = open_store_to_read(options.store);
  const auto run = record::read_run(*store, options.run);
  const auto folder = options.output.empty() ? run.summary.id : options.output;
  json::array written;
  for (const auto& path : report::export_run(*store, run, folder)) {
    written.emplace_back(path.string());
    if (!options.as_json) fmt::print("{}\n", path.string());
  }
  if (options.as_json) fmt::print("{}\n", json::serialize(json::object{{"run", run.summary.id}, {"files", written}}));
  return all_met;
}

void add_common(CLI::App* command, Options& options) {
  command->add_option(
      "--store", options.store,
      "the store (a file, or postgresql://USER@HOST:PORT/DATABASE); usual: under $XDG_STATE_HOME/eyelevel");
  command->add_flag("--json", options.as_json, "print JSON");
}

void add_search(CLI::App* command, Options& options, CLI::Option* needed = nullptr) {
  const std::tuple<const char*, std::string*, const char*> asked[] = {
      {"--serial", &options.serial, "only this unit"},
      {"--model", &options.model, "only units of this model"},
      {"--sequence", &options.sequence, "only this sequence"},
      {"--bench", &options.bench, "only on this bench"},
      {"--operator", &options.operator_name, "only by this person"},
      {"--judgement", &options.judgement, "only those judged pass, fail or undecided"},
      {"--from", &options.from, "only those begun on this day (UTC, 2030-01-07) or later"},
      {"--until", &options.until, "only those begun on this day or before"}};
  for (const auto& [name, value, about] : asked) {
    auto* option = command->add_option(name, *value, about);
    if (needed != nullptr) option->needs(needed);
  }
}

}  // namespace

std::string run_heading() {
  return fmt::format("{:<15} {:<21} {:<24} {:<16} {:<8} {:<14} {:<14} {}", "run", "begun", "sequence", "serial",
                     "model", "bench", "operator", "ended");
}

std::string run_line(const record::RunSummary& run) {
  using record::shown;
  return fmt::format("{:<15} {:<21} {:<24} {:<16} {:<8} {:<14} {:<14} {}", run.id, report::time_text(run.begun),
                     shown(run.sequence, 24), shown(run.serial, 24), shown(run.model, 16), shown(run.bench, 20),
                     shown(run.operator_name, 24),
                     run.ended.empty() ? std::string("not closed")
                                       : fmt::format("{}, {}", run.ended, report::judgement_text(run.judgement)));
}

void add_records(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<Options>();
  auto* command =
      subcommand(app, "records", "What has been measured, newest first", "eyelevel records --serial LF2-00417");
  add_common(command, *options);
  add_daemon_options(*command, options->daemon);
  command->get_option("--daemon")->excludes("--store");
  add_search(command, *options);
  command->add_option("--at-most", options->at_most, "how many (usual: 20)");
  command->require_subcommand(0, 1);
  add_unit_books(command, chosen);
  add_pickup_books(command, chosen);
  add_disc_books(command, chosen);
  add_corrections(command, chosen);
  add_keeping(command, chosen);
  auto* move = command->add_subcommand("move", "Every closed run from one store to another, each once");
  move->footer("Example:\n  eyelevel records move records.db postgresql://anna@db.example/records");
  move->add_option("from", options->store, "a store: a file, or postgresql://USER@HOST:PORT/DATABASE")->required();
  move->add_option("to", options->output, "a store, made where there is none")->required();
  move->add_flag("--json", options->as_json, "print JSON");
  move->callback([options, &chosen] { chosen = [options] { return move_records(*options); }; });
  command->callback([options, command, &chosen] {
    if (command->get_subcommands().empty())
      chosen = [options] { return records(*options); };
    else
      chosen = [part = command->get_subcommands().front(), then = chosen] {
        require_options_behind(*part);
        return then();
      };
  });
}

void add_report(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<Options>();
  auto* command = subcommand(app, "report", "The sheet of one run: one page as PNG, PDF or SVG",
                             "eyelevel report last -o LF2-00417.pdf");
  command->add_option("run", options->run, "its id as `eyelevel records` lists it, or: last")->required();
  add_common(command, *options);
  command->add_option("-o,--output", options->output,
                      "file that ends in .png, .pdf or .svg; usual: RUN.png and RUN.pdf");
  command->add_option("--eye-of", options->eye_of, "name of the captures to show");
  command
      ->add_option("--label", options->label,
                   "instead: a label for the unit, with a code that leads back to the run; ends in .png, .pdf or .svg")
      ->excludes("--output", "--eye-of");
  command->callback([options, &chosen] {
    chosen = [options] { return options->label.empty() ? sheet(*options) : label(*options); };
  });
}

void add_export(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<Options>();
  auto* command = subcommand(
      app, "export", "A run as files for other programs (CSV, JSON, .npy), or runs and books as one archive",
      "eyelevel export last -o run-folder\n  eyelevel export --serial LF2-00417 --archive LF2-00417.eyelevel");
  command->add_option("run", options->run, "its id as `eyelevel records` lists it, or: last");
  add_common(command, *options);
  command->add_option("-o,--output", options->output, "folder; usual: named after the run");
  auto* archive = command->add_option("--archive", options->archive,
                                      "one file for `eyelevel import`: this run, those that are asked for, or all");
  add_search(command, *options, archive);
  command->callback([options, &chosen] { chosen = [options] { return export_files(*options); }; });
}

}  // namespace eyelevel::program
