// SPDX-License-Identifier: Apache-2.0
// `eyelevel records`: what has been measured, newest first, or moved to another store; `eyelevel report RUN`: the sheet
// of one run; `eyelevel export RUN`: its readings, events and captures as files for other programs.
#include <fmt/format.h>

#include <boost/asio/io_context.hpp>
#include <boost/json.hpp>
#include <memory>

#include "core/base/error.hpp"
#include "core/program/daemon_client/client.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/output.hpp"
#include "core/program/store_place.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/record/move_runs.hpp"
#include "core/record/run_record.hpp"
#include "core/report/export.hpp"
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
  std::string sequence;
  std::string output;
  std::string eye_of;
  std::size_t at_most = 20;
  bool as_json = false;
};

struct Listed {
  std::string place;  // where they are
  std::vector<record::RunSummary> runs;
};

// One more than are to be shown tells whether there are more.
Listed runs_of_store(const Options& options) {
  const auto store = open_store_to_read(options.store);
  record::RunQuery query;
  if (!options.serial.empty()) query.serial = options.serial;
  if (!options.sequence.empty()) query.sequence = options.sequence;
  query.at_most = options.at_most + 1;
  return {store->name(), store->runs(query)};
}

std::optional<metrology::Judgement> judgement_of(const std::string& name) {
  using enum metrology::Judgement;
  for (const auto judgement : {pass, fail, undecided})
    if (record::name_of(judgement) == name) return judgement;
  return std::nullopt;
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
  summary.ended = text("ended");
  summary.judgement = judgement_of(text("judgement"));
  summary.program = text("program");
  return summary;
}

task<> ask_for_runs(DaemonClient& client, std::string target, json::value& into) {
  into = co_await client.done("GET", std::move(target));
}

Listed runs_of_daemon(const Options& options) {
  boost::asio::io_context loop(1);
  const auto timeline = base::wall_timeline(loop);
  DaemonClient client(*timeline, daemon_place(options.daemon));
  auto target = fmt::format("/api/1/runs?at_most={}", options.at_most + 1);
  if (!options.serial.empty()) target += "&serial=" + encoded(options.serial);
  if (!options.sequence.empty()) target += "&sequence=" + encoded(options.sequence);
  json::value answer;
  timeline->run(ask_for_runs(client, target, answer));
  Listed listed{"the daemon at " + client.url(), {}};
  for (const auto& run : answer.at("runs").as_array()) listed.runs.push_back(summary_of(run));
  return listed;
}

int records(const Options& options) {
  auto [place, runs] = options.daemon.url.empty() ? runs_of_store(options) : runs_of_daemon(options);
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
    fmt::print("No runs in {}.\n", place);
    return all_met;
  }
  fmt::print("{:<16}{:<22}{:<26}{:<14}{}\n", "run", "begun", "sequence", "serial", "ended");
  for (const auto& run : runs)
    fmt::print("{:<16}{:<22}{:<26}{:<14}{}\n", run.id, report::time_text(run.begun), run.sequence, run.serial,
               run.ended.empty() ? std::string("not closed")
                                 : fmt::format("{}, {}", run.ended, report::judgement_text(run.judgement)));
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

int export_files(const Options& options) {
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

}  // namespace

void add_records(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<Options>();
  auto* command =
      subcommand(app, "records", "What has been measured, newest first", "eyelevel records --serial LF2-00417");
  add_common(command, *options);
  add_daemon_options(*command, options->daemon);
  command->get_option("--daemon")->excludes("--store");
  command->add_option("--serial", options->serial, "only this unit");
  command->add_option("--sequence", options->sequence, "only this sequence");
  command->add_option("--at-most", options->at_most, "how many (usual: 20)");
  auto* move = command->add_subcommand("move", "Every closed run from one store to another, each once");
  move->footer("Example:\n  eyelevel records move records.db postgresql://anna@db.example/records");
  move->add_option("from", options->store, "a store: a file, or postgresql://USER@HOST:PORT/DATABASE")->required();
  move->add_option("to", options->output, "a store, made where there is none")->required();
  move->add_flag("--json", options->as_json, "print JSON");
  command->callback([options, move, &chosen] {
    chosen = [options, moves = move->parsed()] { return moves ? move_records(*options) : records(*options); };
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
  command->callback([options, &chosen] { chosen = [options] { return sheet(*options); }; });
}

void add_export(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<Options>();
  auto* command = subcommand(app, "export", "Readings (CSV), the whole run (JSON) and its captures (.npy) as files",
                             "eyelevel export last -o run-folder");
  command->add_option("run", options->run, "its id as `eyelevel records` lists it, or: last")->required();
  add_common(command, *options);
  command->add_option("-o,--output", options->output, "folder; usual: named after the run");
  command->callback([options, &chosen] { chosen = [options] { return export_files(*options); }; });
}

}  // namespace eyelevel::program
