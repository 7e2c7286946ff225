// SPDX-License-Identifier: Apache-2.0
// `eyelevel rehearse SEQUENCE`: the sequence against simulated units, in simulated time, with or without troubles.
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <boost/asio/io_context.hpp>
#include <boost/json.hpp>
#include <cstdio>
#include <memory>
#include <random>
#include <stdexcept>
#include <thread>

#include "core/base/error.hpp"
#include "core/base/timeline.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/eyelevel/rehearse_expect.hpp"
#include "core/program/eyelevel/rehearse_week.hpp"
#include "core/program/files.hpp"
#include "core/program/interrupt.hpp"
#include "core/program/output.hpp"
#include "core/program/plugins.hpp"
#include "core/program/rehearsal_summary.hpp"
#include "core/program/run_output.hpp"
#include "core/program/store_place.hpp"
#include "core/program/story.hpp"
#include "core/program/terminal_operator.hpp"
#include "core/report/export.hpp"
#include "core/report/words.hpp"
#include "sim/rehearsal/junit.hpp"
#include "sim/rehearsal/rehearse.hpp"

namespace eyelevel::program {
namespace {

namespace json = boost::json;

struct Options {
  std::string sequence;
  std::string model;
  std::string bench;
  int first = 1;
  int units = 1;
  std::optional<std::uint64_t> seed;
  std::vector<std::string> troubles;
  std::vector<std::string> set;
  std::string answers;
  double trouble_rate = 0;
  std::string expect;
  std::string week;
  std::string junit;
  std::string store;
  std::vector<std::string> plugins;
  bool list_troubles = false;
  bool as_json = false;
};

int list_troubles(const Options& options) {
  const auto troubles = sim::ready_troubles();
  json::array list;
  for (const auto& entry : troubles.list()) {
    if (options.as_json)
      list.push_back(json::object{{"name", entry.declaration.name},
                                  {"about", entry.declaration.about},
                                  {"told", entry.call.told},
                                  {"must", sim::in_words(entry.call.demand)}});
    else
      fmt::print("{}: {}\n    told: {}\n    must: {}\n", entry.declaration.name, entry.declaration.about,
                 entry.call.told, sim::in_words(entry.call.demand));
  }
  if (options.as_json) fmt::print("{}\n", json::serialize(list));
  return all_met;
}

// The one line that repeats this rehearsal, or some of its units.
std::string again(const Options& options, std::uint64_t seed, int first, int units) {
  std::string line = "eyelevel rehearse " + options.sequence;
  if (first != 1) line += fmt::format(" --first {}", first);
  if (units != 1) line += fmt::format(" --units {}", units);
  if (!options.model.empty()) line += " --model " + options.model;
  if (!options.bench.empty()) line += " --bench " + options.bench;
  for (const auto& text : options.set) line += fmt::format(" --set '{}'", text);
  if (!options.answers.empty()) line += " --answers " + options.answers;
  for (const auto& name : options.troubles) line += fmt::format(" --trouble '{}'", name);
  for (const auto& folder : options.plugins) line += " --plugins " + folder;
  if (options.trouble_rate > 0) line += fmt::format(" --trouble-rate {}", options.trouble_rate);
  return line + fmt::format(" --seed {}", seed);
}

// Empty: all is well.
std::string failure_of(const sim::UnitOutcome& unit) {
  if (unit.caught == sim::Caught::wrong_pass && unit.wrong.empty()) return "wrong pass";
  return unit.wrong;
}

void print_unit(const sim::UnitOutcome& unit, const std::string& repeat) {
  std::string readings;
  for (const auto& reading : unit.result.readings) {
    const auto truth = unit.truths.find(reading.name);
    readings += fmt::format("; {} {}", reading.name, report::value_text(reading));
    if (truth != unit.truths.end())
      readings += fmt::format(" (truth {})", report::value_text(truth->second, 0, reading.unit));
  }
  fmt::print("{}: {}, {}{}{}\n", unit.serial, unit.result.ended, report::judgement_text(unit.result.judgement),
             readings,
             unit.troubles.empty() ? std::string() : fmt::format("; trouble: {}", fmt::join(unit.troubles, ", ")));
  if (unit.result.error) fmt::print("    {}\n", base::describe(*unit.result.error));
  if (!unit.wrong.empty()) fmt::print("    NOT AS IT MUST BE: {}\n    again: {}\n", unit.wrong, repeat);
  if (unit.caught == sim::Caught::wrong_pass) fmt::print("    WRONG PASS\n    again: {}\n", repeat);
}

// What the story of one unit does not know: the physics behind it.
void print_truth(const sim::UnitOutcome& unit) {
  for (const auto& reading : unit.result.readings) {
    const auto truth = unit.truths.find(reading.name);
    if (truth != unit.truths.end())
      fmt::print("        simulated truth of {}: {}\n", reading.name,
                 report::value_text(truth->second, 0, reading.unit));
  }
  if (!unit.troubles.empty()) fmt::print("        trouble: {}\n", fmt::join(unit.troubles, ", "));
  if (!unit.wrong.empty()) fmt::print("NOT AS IT MUST BE: {}\n", unit.wrong);
  if (unit.caught == sim::Caught::wrong_pass) fmt::print("WRONG PASS\n");
}

// On a terminal, how far it is.
void show_progress(std::size_t done, int of) {
  if (::isatty(STDERR_FILENO) != 1) return;
  put(stderr, fmt::format("\r{} of {} units{}", done, of, done == static_cast<std::size_t>(of) ? "\n" : ""));
}

// The record could not be kept, and no trouble wanted it so: that says nothing about the sequence.
bool is_lost(const sim::UnitOutcome& unit) {
  return unit.result.error && unit.result.error->code == base::ErrorCode::not_recording && !unit.wrong.empty();
}

// Many units have no common order of prompts.
std::map<std::string, std::string> answers_by_name(const std::string& file) {
  ReadyAnswers answers = read_answers(file);
  if (!answers.in_order.empty())
    throw base::Error(base::ErrorCode::bad_input, file + ": a rehearsal wants its answers by name",
                      "write `answers: { lens_is_clean: no }`");
  return std::move(answers.by_name);
}

// One rehearsal: what it needs, held together, and what became of its units.
class Rehearsal {
 public:
  explicit Rehearsal(const Options& options)
      : options_(options),
        equipment_(equip_and_tell(options.plugins)),
        sequence_(load_sequence(options.sequence, equipment_.language, options.set)),
        bench_(options.bench.empty() ? embedded_bench() : load_bench(options.bench)),
        model_(options.model.empty() ? embedded_model() : load_model(options.model)),
        seed_(options.seed ? *options.seed : std::random_device{}()),
        coverage_(sequence_) {
    require_fit(sequence_, bench_, &model_);
    store_ = options.store.empty() ? record::open_memory_store({.keep_captures = false})
                                   : open_store_to_write(options.store);
    suite_.name = sequence_.name;
    suite_.begun = wall_->utc();
    suite_.properties = {{"seed", std::to_string(seed_)}, {"sequence", options.sequence}};
  }

  int all() {
    const sim::RehearsalPlan what = plan();
    if (is_told())
      take(sim::rehearse_unit(what, options_.first, *store_, {&story_}));
    else
      sim::rehearse(what, *store_, [this](const sim::UnitOutcome& unit) { take(unit); });
    if (!options_.junit.empty()) report::write_file(options_.junit, sim::junit_xml(suite_));
    print_end();
    return status();
  }

 private:
  sim::RehearsalPlan plan() {
    return {
        .sequence = coverage_.watched(),
        .bench = bench_,
        .model = &model_,
        .phrasebooks = phrasebooks_,
        .troubles = troubles_,
        .seed = seed_,
        .first = options_.first,
        .units = options_.units,
        .wanted_troubles = options_.troubles,
        .answers = options_.answers.empty() ? std::map<std::string, std::string>() : answers_by_name(options_.answers),
        .trouble_rate = options_.trouble_rate,
        .threads = static_cast<int>(std::thread::hardware_concurrency()),
        .store_thread = &store_thread_,
        .stop = interrupt_.token()};
  }

  // A single unit is told event by event.
  bool is_told() const { return options_.units == 1 && !options_.as_json; }

  void take(const sim::UnitOutcome& unit) {
    const auto repeat = again(options_, seed_, options_.first + tally_.units(), 1);
    if (options_.as_json) {
      list_.push_back(rehearsed_json(*store_, unit));
      list_.back().as_object()["again"] = repeat;
    } else if (is_told()) {
      print_truth(unit);
    } else {
      print_unit(unit, repeat);
    }
    // Whoever reads along sees each unit as it ends; when nobody does, the rest is not worth its time.
    if (std::fflush(stdout) != 0) throw std::runtime_error("standard output cannot be written");
    if (options_.as_json && options_.units > 1) show_progress(list_.size(), options_.units);
    suite_.tests.push_back({unit.serial, unit.wall_s, failure_of(unit), repeat});
    tally_.add(unit);
    is_lost_ = is_lost_ || is_lost(unit);
  }

  void print_end() {
    const auto repeat = again(options_, seed_, options_.first, options_.units);
    if (options_.as_json) {
      json::object all{{"sequence", sequence_.name}, {"seed", seed_}, {"again", repeat}, {"units", std::move(list_)}};
      for (auto& entry : summary_json(tally_, coverage_)) all[entry.key()] = std::move(entry.value());
      fmt::print("{}\n", json::serialize(all));
    } else {
      if (!is_told()) print_summary(tally_, coverage_, base::to_seconds(wall_->now()));
      fmt::print("again: {}\n", repeat);
    }
  }

  int status() const {
    if (interrupt_.token().stop_requested()) {
      put(stderr,
          fmt::format("eyelevel: stopped by request, {} of {} units were begun\n", tally_.units(), options_.units));
      return not_finished;
    }
    if (is_lost_) return not_finished;
    return tally_.wrong() == 0 && tally_.wrong_passes() == 0 ? all_met : not_met;
  }

  const Options& options_;
  const Equipment equipment_;
  const sequence::Sequence sequence_;
  const bench::BenchFile bench_;
  const bench::ModelSheet model_;
  const phrasebook::Phrasebooks phrasebooks_ = phrasebook::standard_phrasebooks();
  const sim::Troubles troubles_ = sim::ready_troubles();
  const std::uint64_t seed_;
  std::unique_ptr<record::Store> store_;
  record::StoreThread store_thread_;
  const Interrupt interrupt_;
  boost::asio::io_context loop_;
  const std::unique_ptr<base::Timeline> wall_ = base::wall_timeline(loop_);
  const sim::Coverage coverage_;
  sim::Tally tally_;
  sim::JunitSuite suite_;
  json::array list_;
  Story story_{stdout};
  bool is_lost_ = false;
};

int rehearse(const Options& options) {
  if (options.list_troubles) return list_troubles(options);
  if (!options.expect.empty())
    return rehearse_expectations({.where = options.expect,
                                  .sequence = options.sequence,
                                  .bench = options.bench,
                                  .model = options.model,
                                  .plugins = options.plugins,
                                  .junit = options.junit,
                                  .as_json = options.as_json});
  if (!options.week.empty())
    return rehearse_week(
        {.file = options.week, .store = options.store, .plugins = options.plugins, .as_json = options.as_json});
  if (options.sequence.empty())
    throw base::Error(base::ErrorCode::bad_input, "rehearse: no sequence was named", "eyelevel rehearse SEQUENCE");
  return Rehearsal(options).all();
}

}  // namespace

void add_rehearse(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<Options>();
  auto* command =
      subcommand(app, "rehearse", "A sequence against simulated units, in simulated time",
                 "eyelevel rehearse sequences/ready/pickup-level.yaml --units 100 --seed 7 --trouble-rate 0.1");
  command->add_option("sequence", options->sequence, "the sequence");
  command->add_option("--units", options->units, "how many units (usual: 1)")->check(CLI::Range(1, 10'000'000));
  command->add_option("--first", options->first, "number of the first unit of the seed (usual: 1)")
      ->check(CLI::Range(1, 10'000'000));
  command
      ->add_option("--seed", options->seed, "the same seed gives the same units; usual: a fresh one, which is printed")
      ->check(not_negative);
  command->add_option("--set", options->set, "NAME=VALUE for what the sequence asks at its start; may be repeated");
  command->add_option(
      "--answers", options->answers,
      "file with what the simulated operator answers, by name; usual: yes, the first choice, the middle");
  command->add_option("--trouble", options->troubles, "a fault that every unit has; may be given again")
      ->allow_extra_args(false);
  command->add_option("--trouble-rate", options->trouble_rate, "each unit has one random trouble with this probability")
      ->check(CLI::Range(0.0, 1.0));
  command->add_option("--model", options->model, "model sheet of the units; usual: the invented LF-2");
  command->add_option("--bench", options->bench, "bench file with the accuracies; usual: the invented bench");
  command->add_option("--junit", options->junit, "file for the outcome as JUnit XML");
  command->add_option("--store", options->store, "keep the record in this file; usual: in memory");
  auto* expect = command->add_option("--expect", options->expect,
                                     "rehearse the expectations of this folder (or file) and say which are met; with a "
                                     "sequence, only those of it");
  for (const char* own : {"--units", "--first", "--seed", "--set", "--trouble", "--trouble-rate", "--store"})
    expect->excludes(own);
  auto* week = command->add_option("--week", options->week,
                                   "play a week of a workshop into --store: this file says which units come to which "
                                   "benches and people, and what is wrong (examples/week)");
  week->needs("--store")->excludes("sequence");
  for (const char* own : {"--units", "--first", "--seed", "--set", "--answers", "--trouble", "--trouble-rate",
                          "--model", "--bench", "--junit", "--expect"})
    week->excludes(own);
  add_plugins_option(*command, options->plugins);
  command->add_flag("--list-troubles", options->list_troubles, "list the faults that can be switched on");
  command->add_flag("--json", options->as_json, "print JSON");
  command->callback([options, &chosen] { chosen = [options] { return rehearse(*options); }; });
}

}  // namespace eyelevel::program
