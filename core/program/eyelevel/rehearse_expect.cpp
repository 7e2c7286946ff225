// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyelevel/rehearse_expect.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/asio/io_context.hpp>
#include <boost/json.hpp>
#include <filesystem>
#include <thread>

#include "core/base/error.hpp"
#include "core/base/timeline.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/files.hpp"
#include "core/program/interrupt.hpp"
#include "core/program/output.hpp"
#include "core/program/plugins.hpp"
#include "core/report/export.hpp"
#include "sim/rehearsal/expect.hpp"
#include "sim/rehearsal/junit.hpp"

namespace eyelevel::program {
namespace {

namespace fs = std::filesystem;
namespace json = boost::json;

std::vector<fs::path> files_at(const std::string& where) {
  if (!fs::exists(where))
    throw base::Error(base::ErrorCode::bad_input, fmt::format("--expect: there is no {}", where),
                      "name a folder with expectations, such as sequences/expect");
  if (!fs::is_directory(where)) return {where};
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(where))
    if (entry.path().extension() == ".yaml" || entry.path().extension() == ".yml") files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  return files;
}

// All of them, or every mistake of all of them.
std::vector<sim::Expectations> read_all(const ExpectWish& wish, const sim::Troubles& troubles) {
  std::vector<sim::Expectations> all;
  bool fine = true;
  for (const auto& file : files_at(wish.where)) {
    auto read = sim::read_expectations(yaml::load_file(file), troubles);
    for (const auto& mistake : read.mistakes.list()) put(stderr, yaml::print(mistake) + "\n");
    fine = fine && read.mistakes.fine();
    const bool is_wanted = wish.sequence.empty() || fs::weakly_canonical(read.expectations.sequence_path()) ==
                                                        fs::weakly_canonical(wish.sequence);
    if (is_wanted) all.push_back(std::move(read.expectations));
  }
  if (!fine)
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("the expectations of {} cannot be used as they stand", wish.where),
                      "mend what is listed above");
  if (all.empty())
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("there are no expectations{} in {}",
                                  wish.sequence.empty() ? std::string() : " of " + wish.sequence, wish.where),
                      "write a file that begins with `expectations:`; sequences/README.md shows one");
  return all;
}

class Expecting {
 public:
  Expecting(const ExpectWish& wish, const Equipment& equipment, const sim::Troubles& troubles)
      : wish_(wish),
        equipment_(equipment),
        troubles_(troubles),
        bench_(wish.bench.empty() ? embedded_bench() : load_bench(wish.bench)),
        model_(wish.model.empty() ? embedded_model() : load_model(wish.model)),
        wall_(base::wall_timeline(loop_)),
        suite_{
            .name = "expectations", .begun = wall_->utc(), .properties = {{"expectations", wish.where}}, .tests = {}} {}

  void all_of(const sim::Expectations& expectations) {
    const auto sequence = load_sequence(expectations.sequence_path(), equipment_.language, expectations.set);
    require_fit(sequence, bench_, &model_);
    for (const auto& expected : expectations.list) {
      if (interrupt_.token().stop_requested()) return;
      one(expectations, sequence, expected);
    }
  }

  int finish() {
    if (!wish_.junit.empty()) report::write_file(wish_.junit, sim::junit_xml(suite_));
    if (wish_.as_json)
      fmt::print("{}\n", json::serialize(json::object{{"expectations", std::move(list_)}, {"not_met", not_met_}}));
    else
      fmt::print("{} expectations, {} not met\n", suite_.tests.size(), not_met_);
    if (interrupt_.token().stop_requested()) {
      put(stderr, "eyelevel: stopped by request\n");
      return not_finished;
    }
    return not_met_ == 0 ? all_met : not_met;
  }

 private:
  void one(const sim::Expectations& of, const sequence::Sequence& sequence, const sim::Expectation& expected) {
    const auto store = record::open_memory_store({.keep_captures = false});
    const sim::RehearsalPlan plan{.sequence = sequence,
                                  .bench = bench_,
                                  .model = &model_,
                                  .phrasebooks = phrasebooks_,
                                  .troubles = troubles_,
                                  .seed = expected.seed,
                                  .units = expected.units,
                                  .wanted_troubles = expected.troubles,
                                  .answers = expected.answers,
                                  .threads = static_cast<int>(std::thread::hardware_concurrency()),
                                  .stop = interrupt_.token()};
    const base::Duration begun = wall_->now();
    std::string why, again;
    int number = 0;
    sim::rehearse(plan, *store, [&](sim::UnitOutcome&& unit) {
      ++number;
      if (!why.empty()) return;
      why = sim::what_is_not_met(expected, unit);
      if (why.empty()) return;
      why = fmt::format("{}: {}", unit.serial, why);
      again = again_line(of, expected, number);
    });
    if (interrupt_.token().stop_requested()) return;
    tell(of, expected, why, again, base::to_seconds(wall_->now() - begun));
  }

  std::string again_line(const sim::Expectations& of, const sim::Expectation& expected, int number) const {
    std::string line = "eyelevel rehearse " + of.sequence_path();
    if (number != 1) line += fmt::format(" --first {}", number);
    if (!wish_.model.empty()) line += " --model " + wish_.model;
    if (!wish_.bench.empty()) line += " --bench " + wish_.bench;
    for (const auto& text : of.set) line += fmt::format(" --set '{}'", text);
    for (const auto& name : expected.troubles) line += fmt::format(" --trouble '{}'", name);
    for (const auto& folder : wish_.plugins) line += " --plugins " + folder;
    return line + fmt::format(" --seed {}", expected.seed);
  }

  void tell(const sim::Expectations& of, const sim::Expectation& expected, const std::string& why,
            const std::string& again, double seconds) {
    suite_.tests.push_back({of.sequence + ": " + expected.name, seconds, why, again});
    not_met_ += why.empty() ? 0 : 1;
    if (wish_.as_json)
      list_.push_back(json::object{{"file", of.file},
                                   {"line", expected.mark.line},
                                   {"name", expected.name},
                                   {"met", why.empty()},
                                   {"why", why.empty() ? json::value() : json::value(why)},
                                   {"again", again.empty() ? json::value() : json::value(again)}});
    else if (why.empty())
      fmt::print("met      {}:{}: {}\n", of.file, expected.mark.line, expected.name);
    else
      fmt::print("NOT MET  {}:{}: {}\n    {}\n    again: {}\n", of.file, expected.mark.line, expected.name, why, again);
  }

  const ExpectWish& wish_;
  const Equipment& equipment_;
  const sim::Troubles& troubles_;
  bench::BenchFile bench_;
  bench::ModelSheet model_;
  phrasebook::Phrasebooks phrasebooks_ = phrasebook::standard_phrasebooks();
  Interrupt interrupt_;
  boost::asio::io_context loop_;
  std::unique_ptr<base::Timeline> wall_;
  sim::JunitSuite suite_;
  json::array list_;
  int not_met_ = 0;
};

}  // namespace

int rehearse_expectations(const ExpectWish& wish) {
  const auto troubles = sim::ready_troubles();
  const auto all = read_all(wish, troubles);
  const auto equipment = equip_and_tell(wish.plugins);
  Expecting expecting(wish, equipment, troubles);
  for (const auto& expectations : all) expecting.all_of(expectations);
  return expecting.finish();
}

}  // namespace eyelevel::program
