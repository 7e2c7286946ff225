// SPDX-License-Identifier: Apache-2.0
// The failure walk: every ready sequence with its n-th call of a transport failing, and with its n-th writing into the
// store failing and every one after it. Whatever n is: the run ends, its closing has run, outputs are off, the record
// reads, and the result says what happened. The gate takes some n, from a drawn first one on (EYELEVEL_WALK_SEED
// repeats it); EYELEVEL_WALK=all takes every n (of the soak, whose rounds are alike, not
// all of them), and the name of a ready sequence in the place of `all` every n of that one.
#include <catch2/catch.hpp>

#include <cstdlib>
#include <memory>
#include <random>
#include <string>
#include <utility>

#include "core/record/journal/run_journal.hpp"
#include "core/record/run_record.hpp"
#include "instruments/transport/error.hpp"
#include "instruments/transport/memory/client.hpp"
#include "instruments/transport/transports.hpp"
#include "sim/rehearsal/coverage.hpp"
#include "sim/rehearsal/house.hpp"
#include "sim/rehearsal/rehearse.hpp"
#include "sim/unit/simulated_bench.hpp"
#include "tests/support/ready_plan.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;

namespace {

enum class Failure { none, lost, dead, silent, nonsense };  // dead: lost, and every later call, too

struct Calls {
  base::Timeline& timeline;
  Failure how = Failure::none;
  int fails_at = 0;
  int made = 0;

  // One call of a transport. True: it must answer nonsense.
  task<bool> next() {
    ++made;
    if (how == Failure::none || made < fails_at || (made > fails_at && how != Failure::dead)) co_return false;
    if (how == Failure::lost || how == Failure::dead)
      transport::fail(base::ErrorCode::connection_lost, "MEMORY0", "the connection was lost by the test", "");
    if (how == Failure::silent) co_await timeline.sleep(std::chrono::hours(24));
    co_return how == Failure::nonsense;
  }
};

class FailingLink final : public transport::Link {
 public:
  FailingLink(std::unique_ptr<Link> inner, Calls& calls) : inner_(std::move(inner)), calls_(calls) {}

  const std::string& resource_name() const override { return inner_->resource_name(); }
  task<> write(std::string_view message) override {
    co_await calls_.next();
    co_await inner_->write(message);
  }
  task<> read(transport::Buffer& into, std::size_t most) override {
    const bool nonsense = co_await calls_.next();
    co_await inner_->read(into, most);
    if (nonsense) into = "\x02?";
  }
  task<> clear() override {
    co_await calls_.next();
    co_await inner_->clear();
  }
  task<> trigger() override {
    co_await calls_.next();
    co_await inner_->trigger();
  }
  task<std::uint8_t> status_byte() override {
    co_await calls_.next();
    co_return co_await inner_->status_byte();
  }
  task<> wait_for_service() override {
    co_await calls_.next();
    co_await inner_->wait_for_service();
  }
  task<> lock(std::string key, base::Duration wait) override { return inner_->lock(std::move(key), wait); }
  task<> unlock() override { return inner_->unlock(); }
  task<> remote_local(transport::RemoteLocal what) override { return inner_->remote_local(what); }
  void close() noexcept override { inner_->close(); }
  task<std::string> why_silent() override { return inner_->why_silent(); }
  std::string ignored() const override { return inner_->ignored(); }

 private:
  std::unique_ptr<Link> inner_;
  Calls& calls_;
};

struct Walked {
  sequence::RunResult result;
  int calls = 0;
  int writings = 0;
  bool closing_ran = false;
  double simulated_s = 0;
  std::string outputs;  // what the generator answers when it is asked, after the run
  std::unique_ptr<record::Store> store;
};

// Counts the writings.
class Counting final : public event::Journal {
 public:
  Counting(event::Journal& inner, int& commits) : inner_(inner), commits_(commits) {}
  task<> append(const event::Event& event) override { return inner_.append(event); }
  task<> commit() override {
    ++commits_;
    return inner_.commit();
  }

 private:
  event::Journal& inner_;
  int& commits_;
};

task<> ask_outputs(sim::SimulatedBench& bench, std::string& answer) {
  const auto generator = bench.devices().find("generator");
  if (generator == bench.devices().end()) co_return;
  transport::Reply reply;
  co_await generator->second->execute("OUTP1?", reply);
  answer = reply.bytes;
}

// One visit, whose n-th call of a transport (or writing) fails. The seed is that of a unit that is measured to the end.
Walked walk(const test::ReadyPlan& ready, Failure how, int call, int writing) {
  constexpr std::uint64_t seed = 7;
  Walked walked;
  const sim::Coverage coverage(*ready.sequence);
  test::Simulated simulated;
  base::Timeline& timeline = *simulated.timeline;
  Calls calls{timeline, how, call};
  const auto make = sim::draw_unit(seed, sim::traits_of(ready.model), ready.bench);
  sim::SimulatedBench bench(timeline, make);
  transport::Transports transports;
  transports.add(transport::Carrier::memory,
                 [&](transport::ResourceName name) -> task<std::unique_ptr<transport::Link>> {
                   const auto& device = bench.devices().at(name.host);
                   co_return std::make_unique<FailingLink>(
                       co_await transport::memory::connect(device, transport::memory::resource_name(name.host)), calls);
                 });
  walked.store = record::open_memory_store({.keep_captures = false});
  sim::FullStore full(*walked.store, writing);
  record::RunJournal journal(full, timeline, nullptr);
  Counting counted(journal, walked.writings);
  const bench::BenchFile reached = sim::in_memory(ready.bench);
  sequence::RunSetting setting{.timeline = timeline,
                               .bench = reached,
                               .model = &ready.model,
                               .open = phrasebook::opener(ready.phrasebooks, transports, timeline),
                               .operator_ = bench.person(),
                               .run = journal.run(),
                               .serial = "LF2-00001",
                               .seed = seed};
  simulated.run([](sequence::RunResult& into, const sequence::Sequence& sequence, sequence::RunSetting with,
                   event::Journal& record) -> task<> {
    into = co_await sequence::run(sequence, std::move(with), record);
  }(walked.result, coverage.watched(), std::move(setting), counted));
  walked.calls = calls.made;
  walked.simulated_s = base::to_seconds(timeline.now());
  for (const auto& step : coverage.steps())
    if (step.place.part == "closing") walked.closing_ran = step.times > 0;
  simulated.run(ask_outputs(bench, walked.outputs));
  return walked;
}

void check_ended_well(const Walked& walked, bool record_is_whole) {
  const auto& result = walked.result;
  if (result.error) UNSCOPED_INFO(base::describe(*result.error));
  CHECK(walked.closing_ran);
  CHECK(walked.simulated_s < (8 + 1) * 3600);  // the longest of them takes 8 h
  CHECK((result.ended == "finished" || result.ended == "stopped"));
  CHECK(result.error.has_value() == (result.ended == "stopped"));
  if (result.error) {
    CHECK_FALSE(result.judgement.has_value());
    CHECK(result.error->code != base::ErrorCode::defect);
    CHECK_FALSE(result.error->message.empty());
  }
  const auto runs = walked.store->runs({});
  if (record_is_whole) {
    REQUIRE(runs.size() == 1);
    CHECK(record::read_run(*walked.store, runs[0].id).summary.ended == result.ended);
  } else {
    CHECK(result.error->code == base::ErrorCode::not_recording);
    if (!runs.empty()) CHECK_FALSE(record::read_run(*walked.store, runs[0].id).is_closed());
  }
}

// "all", the name of a ready sequence, or nothing.
std::string wished() {
  const char* wish = std::getenv("EYELEVEL_WALK");  // NOLINT(concurrency-mt-unsafe): before any thread
  return wish == nullptr ? "" : wish;
}
bool every_one() { return !wished().empty(); }

std::uint64_t walk_seed() {
  const char* wish = std::getenv("EYELEVEL_WALK_SEED");  // NOLINT(concurrency-mt-unsafe): before any thread
  static const std::uint64_t seed = wish != nullptr ? std::stoull(wish) : std::random_device{}();
  return seed;
}

// So many of 1 to `of`, evenly spread from a drawn first one on.
std::vector<int> some(int of, int wanted, base::Random random) {
  std::vector<int> all;
  const int step = std::max(1, of / wanted);
  for (int n = 1 + static_cast<int>(random.below(static_cast<std::uint64_t>(step))); n <= of; n += step)
    all.push_back(n);
  return all;
}

// Every one; of long runs, whose rounds are alike, every one of the beginning (several rounds) and of the end, and
// between them steps that no round is a multiple of.
std::vector<int> every(int of) {
  constexpr int beginning = 800, step = 41, end = 50;
  std::vector<int> all;
  for (int n = 1; n <= of; n += n < beginning || n > of - end ? 1 : std::min(step, std::max(1, of - end - n)))
    all.push_back(n);
  return all;
}

const std::vector<std::string> ready_names{"pickup-level",
                                           "level-on-two-discs",
                                           "level-before-and-after",
                                           "level-cross-check",
                                           "level-by-multimeter",
                                           "bench-proof",
                                           "adjust",
                                           "diagnose"};
// Eight simulated hours take seconds: in the gate with one kind of failure only.
std::vector<std::string> names_for(Failure how) {
  if (every_one() && wished() != "all") return {wished()};
  std::vector<std::string> names = ready_names;
  if (how == Failure::lost || every_one()) names.emplace_back("level-soak");
  return names;
}
// One with a generator, whose output the proof switches on.
test::ReadyPlan ready_plan(const std::string& name) {
  const char* file = name == "bench-proof" ? "tests/rehearsal/bench_with_generator.yaml" : "examples/bench.yaml";
  return test::ReadyPlan(name, bench::read_bench_file(file).bench);
}

void walk_calls(Failure how) {
  constexpr int in_the_gate = 5;
  for (const std::string& name : names_for(how)) {
    const auto ready = ready_plan(name);
    const Walked whole = walk(ready, Failure::none, 0, 0);
    REQUIRE(whole.result.ended == "finished");
    const base::Random random = base::Random(walk_seed(), "failure walk").stream(name);
    for (const int n : every_one() ? every(whole.calls) : some(whole.calls, in_the_gate, random)) {
      INFO(name << ", call " << n << " of " << whole.calls << ", EYELEVEL_WALK_SEED=" << walk_seed());
      const Walked walked = walk(ready, how, n, 0);
      check_ended_well(walked, true);
      // Nobody can put off what cannot be reached; then it is an error.
      if (how == Failure::dead)
        CHECK(walked.result.error.has_value());
      else
        CHECK((walked.outputs.empty() || walked.outputs == "0"));
    }
  }
}

}  // namespace

TEST_CASE("failure walk: a connection that is lost at the n-th call", "[rehearsal]") { walk_calls(Failure::lost); }

TEST_CASE("failure walk: a bench that cannot be reached any more from the n-th call on", "[rehearsal]") {
  walk_calls(Failure::dead);
}

TEST_CASE("failure walk: an instrument that is silent at the n-th call", "[rehearsal]") { walk_calls(Failure::silent); }

TEST_CASE("failure walk: an instrument that answers nonsense at the n-th call", "[rehearsal]") {
  walk_calls(Failure::nonsense);
}

TEST_CASE("failure walk: a store that is full from the n-th writing on", "[rehearsal]") {
  constexpr int in_the_gate = 6;
  for (const std::string& name : names_for(Failure::none)) {
    const auto ready = ready_plan(name);
    const Walked whole = walk(ready, Failure::none, 0, 0);
    const base::Random random = base::Random(walk_seed(), "full store").stream(name);
    for (const int n : every_one() ? every(whole.writings) : some(whole.writings, in_the_gate, random)) {
      INFO(name << ", writing " << n << " of " << whole.writings << ", EYELEVEL_WALK_SEED=" << walk_seed());
      const Walked walked = walk(ready, Failure::none, 0, n);
      check_ended_well(walked, false);
      CHECK((walked.outputs.empty() || walked.outputs == "0"));
    }
  }
}
