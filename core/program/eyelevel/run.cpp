// SPDX-License-Identifier: Apache-2.0
// `eyelevel run SEQUENCE --bench BENCH`: one run on real instruments, on the wall clock, by this program or by the
// daemon that owns the bench. An interrupt stops the run; its closing still leaves every instrument safe.
#include <fmt/format.h>
#include <unistd.h>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/deferred.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/experimental/parallel_group.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/json.hpp>
#include <csignal>
#include <memory>
#include <random>

#include "core/base/error.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/eyelevel/run.hpp"
#include "core/program/files.hpp"
#include "core/program/links.hpp"
#include "core/program/output.hpp"
#include "core/program/plugins.hpp"
#include "core/program/run_output.hpp"
#include "core/program/store_place.hpp"
#include "core/program/story.hpp"
#include "core/program/terminal_operator.hpp"
#include "core/record/bench_proof.hpp"
#include "core/record/books/names.hpp"
#include "core/record/journal/run_journal.hpp"
#include "core/report/words.hpp"
#include "core/sequence/runner/control.hpp"
#include "core/sequence/runner/run.hpp"
#include "core/service/resume.hpp"
#include "instruments/phrasebook/open.hpp"

namespace eyelevel::program {
namespace {

namespace asio = boost::asio;
namespace json = boost::json;

// Runs `work` until it ends; SIGINT or SIGTERM cancels it once and then waits for its closing.
task<> until_interrupted(task<> work) {
  const auto executor = co_await asio::this_coro::executor;
  asio::signal_set signals(executor, SIGINT, SIGTERM);
  const auto [order, error, signal_error, number] =
      co_await asio::experimental::make_parallel_group(asio::co_spawn(executor, std::move(work), asio::deferred),
                                                       signals.async_wait(asio::deferred))
          .async_wait(asio::experimental::wait_for_one(), asio::use_awaitable);
  if (error) std::rethrow_exception(error);
}

// Ctrl-\ stops after the step under way; Ctrl-Z pauses before the next one and goes on again.
task<> obey_keys(sequence::RunControl& control) {
  asio::signal_set signals(co_await asio::this_coro::executor, SIGQUIT, SIGTSTP);
  for (;;) {
    const int number = co_await signals.async_wait(asio::use_awaitable);
    if (number == SIGQUIT) {
      put(stderr, "eyelevel: stopping after this step\n");
      control.stop_after_step();
    } else if (control.is_paused()) {
      control.go_on();
    } else {
      put(stderr, "eyelevel: pausing before the next step; the same key goes on\n");
      control.pause();
    }
  }
}

task<> run_into(sequence::RunResult& result, const sequence::Sequence& sequence, sequence::RunSetting setting,
                event::Journal& journal, std::vector<event::Listener*> listeners) {
  result = co_await sequence::run(sequence, std::move(setting), journal, std::move(listeners));
}

// `--resume`: what was asked at the start, and the unit, stay as they were.
service::Resumed resumed(record::Store& store, const RunOptions& options) {
  const auto refuse = [](std::string why, std::string advice) {
    return base::Error(base::ErrorCode::bad_input, std::move(why), std::move(advice));
  };
  if (!options.set.empty())
    throw refuse("--resume: what was asked at the start stays as it was", "leave --set out, or start a new run");
  auto found = service::resumed(store, options.resume);
  if (!options.serial.empty() && options.serial != found.begun.serial)
    throw refuse(fmt::format("--resume: run {} is of the unit {}", found.run, found.begun.serial),
                 "leave --serial out, or start a new run");
  return found;
}

// NAME=VALUE
std::vector<std::string> given_in(const service::Resumed& resumed) {
  std::vector<std::string> set;
  set.reserve(resumed.begun.given.size());
  for (const event::GivenAtStart& given : resumed.begun.given) set.push_back(given.name + "=" + given.value);
  return set;
}

int run_here(const RunOptions& options, const bench::BenchFile& bench) {
  const auto equipment = equip_and_tell(options.plugins);
  const bool is_asked = options.answers.empty() && ::isatty(STDIN_FILENO) == 1;
  std::unique_ptr<record::Store> store;
  std::optional<service::Resumed> from;
  if (!options.resume.empty()) {
    store = open_store_to_write(options.store);
    from = resumed(*store, options);
  }
  const auto sequence = load_sequence(options.sequence, equipment.language, from ? given_in(*from) : options.set,
                                      is_asked && !from ? AskAtStart(ask_at_start) : AskAtStart());
  if (from) service::require_same(sequence, *from);
  std::optional<bench::ModelSheet> model;
  if (!options.model.empty()) model = load_model(options.model);
  require_fit(sequence, bench, model ? &*model : nullptr);

  asio::io_context loop(1);
  const auto timeline = base::wall_timeline(loop);
  const auto person = options.answers.empty() ? terminal_operator(loop.get_executor(), options.by)
                                              : answers_from_file(options.answers, options.by);
  if (!store) store = open_store_to_write(options.store);
  record::StoreThread store_thread;
  record::RunJournal journal(*store, *timeline, &store_thread);
  const auto phrasebooks = phrasebook::standard_phrasebooks();
  auto transports = every_link(without_driven(bench, equipment.plugins), phrasebooks);
  add_links(transports, equipment.plugins);

  const auto proof = record::last_proof(*store, bench.name, timeline->utc(), bench.proof_lasts_s);
  if (options.as_json && !report::is_proven(proof))
    put(stderr, fmt::format("eyelevel: {}\n", report::proof_text(proof)));

  const std::uint64_t seed = std::random_device{}();
  Story story(options.as_json ? stderr : stdout);
  std::vector<event::Listener*> listeners;
  if (!options.as_json || ::isatty(STDERR_FILENO) == 1) listeners.push_back(&story);
  sequence::RunResult result;
  sequence::RunControl control;
  asio::co_spawn(loop, obey_keys(control), asio::detached);
  timeline->run(until_interrupted(
      run_into(result, sequence,
               {.timeline = *timeline,
                .bench = bench,
                .model = model ? &*model : nullptr,
                .open = opener(equipment.plugins, phrasebook::opener(phrasebooks, transports, *timeline), *timeline),
                .operator_ = *person,
                .run = journal.run(),
                .serial = from ? from->begun.serial : options.serial,
                .seed = seed,
                .proof = proof,
                .control = &control,
                .goes_on_from = from ? from->run : "",
                .reached = from ? std::optional(from->reached) : std::nullopt},
               journal, listeners)));

  const double wall_s = base::to_seconds(timeline->now());
  if (options.as_json)
    fmt::print("{}\n",
               json::serialize(json::object{{"sequence", sequence.name},
                                            {"seed", seed},
                                            {"again", nullptr},
                                            {"units", json::array{unit_output(*store, result, 0, wall_s, {})}}}));
  else
    fmt::print("run {}, kept in {}\n", result.run, store->name());
  return status_of(result);
}

int run(const RunOptions& options) {
  if (!options.serial.empty()) record::required_name("--serial", options.serial);
  if (!options.by.empty()) record::required_name("--by", options.by);
  if (!options.daemon.url.empty()) return run_at_daemon(options);
  const auto bench = load_bench(options.bench);
  if (!options.alone)
    if (const auto status = run_at_owner(options, bench)) return *status;
  return run_here(options, bench);
}

}  // namespace

void add_run(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<RunOptions>();
  auto* command =
      subcommand(app, "run", "A sequence on the instruments of a bench",
                 "eyelevel run sequences/ready/pickup-level.yaml --bench examples/bench.yaml --serial LF2-00417");
  command
      ->add_option("sequence", options->sequence,
                   "the sequence; with --daemon, as that one lists it: ready/pickup-level.yaml")
      ->required();
  command->add_option("--bench", options->bench, "the bench file; with --daemon, the name of one of its benches")
      ->required();
  add_daemon_options(*command, options->daemon);
  command->add_flag("--alone", options->alone, "by this program, even where a running daemon owns the bench")
      ->excludes("--daemon");
  command->add_option("--model", options->model, "model sheet of the unit");
  command->add_option("--serial", options->serial, "serial number of the unit");
  command->add_option("--set", options->set, "NAME=VALUE for what the sequence asks at its start; may be repeated");
  command->add_option("--resume", options->resume,
                      "go on with this run, which was broken off, at the last step it came to that says `resume here`");
  command->add_option("--by", options->by, "who is at the bench");
  command->add_option("--answers", options->answers, "file that holds the answers to the prompts");
  command->add_option(
      "--store", options->store,
      "the store (a file, or postgresql://USER@HOST:PORT/DATABASE); usual: under $XDG_STATE_HOME/eyelevel");
  add_plugins_option(*command, options->plugins);
  command->add_flag("--json", options->as_json, "print JSON");
  command->callback([options, &chosen] { chosen = [options] { return run(*options); }; });
}

}  // namespace eyelevel::program
