// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/rehearse.hpp"

#include <fmt/format.h>

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <algorithm>
#include <atomic>
#include <exception>
#include <mutex>
#include <thread>

#include "core/base/error.hpp"
#include "core/record/journal/run_journal.hpp"
#include "instruments/transport/memory/server.hpp"
#include "instruments/transport/transports.hpp"
#include "sim/rehearsal/house.hpp"
#include "sim/rehearsal/told.hpp"
#include "sim/rehearsal/truth.hpp"
#include "sim/unit/simulated_bench.hpp"

namespace eyelevel::sim {
namespace {

const Troubles::Entry& trouble(const Troubles& troubles, const std::string& name) {
  const auto* entry = troubles.find(name);
  if (entry == nullptr) throw base::Error(base::ErrorCode::bad_input, troubles.unknown(name), "see --list-troubles");
  return *entry;
}

std::vector<std::string> troubles_of(const RehearsalPlan& plan, base::Random random) {
  auto names = plan.wanted_troubles;
  if (random.chance(plan.trouble_rate)) {
    const auto all = plan.troubles.names();
    names.push_back(all[random.below(all.size())]);
  }
  return names;
}

// The store thread is shared by all units; a unit's loop must not end before the thread has let go of it.
struct SettleStore {
  record::StoreThread* thread;
  ~SettleStore() {
    if (thread != nullptr) thread->settle();
  }
};

void take_up(const Occasion& occasion, const RehearsalPlan& plan, const base::Random& random, UnitMake& make) {
  if (!occasion.by.empty()) make.person.name = occasion.by;
  if (occasion.visit != 0) make.person_seed = random.stream(fmt::format("visit {}", occasion.visit)).bits();
  if (occasion.bench.empty()) return;
  put_on_bench(make, base::Random(plan.seed, "bench " + occasion.bench).bits(), occasion.bench, plan.bench);
  for (InstrumentMake& instrument : make.instruments)
    for (auto& [channel, probe] : instrument.probes) probe.divider_error += occasion.probe_drift;
}

bool has_kind(const sequence::Sequence& sequence, const std::string& kind) {
  return kind.empty() || std::any_of(sequence.roles.begin(), sequence.roles.end(),
                                     [&](const sequence::RoleNeed& role) { return role.kind == kind; });
}

}  // namespace

bench::BenchFile in_memory(bench::BenchFile bench) {
  for (auto& entry : bench.instruments) entry.resource = transport::memory::resource_name(entry.role);
  return bench;
}

std::string serial_of(std::string model, int number) {
  model.erase(std::remove(model.begin(), model.end(), '-'), model.end());
  return fmt::format("{}-{:05}", model, number);
}

UnitOutcome rehearse_unit(const RehearsalPlan& plan, int number, record::Store& store,
                          const std::vector<event::Listener*>& listeners, const Occasion& occasion) {
  const base::Random random = base::Random(plan.seed, "rehearsal").stream(fmt::format("unit {}", number));
  const ModelTraits traits = plan.model != nullptr ? traits_of(*plan.model) : ModelTraits{};
  const std::uint64_t seed = random.stream("seed").bits();

  UnitOutcome outcome;
  outcome.model = traits.model;
  outcome.serial = occasion.serial.empty() ? serial_of(traits.model, number) : occasion.serial;
  outcome.troubles = troubles_of(plan, random.stream("troubles"));
  outcome.troubles.insert(outcome.troubles.end(), occasion.troubles.begin(), occasion.troubles.end());

  UnitMake make = draw_unit(seed, traits, plan.bench);
  // Two units come to two benches: what their oscilloscopes have in common is their kind.
  make.bench_serial = std::to_string(number);
  make.person.answers = plan.answers;
  take_up(occasion, plan, random, make);
  std::vector<TroubleCall> calls;
  std::vector<Demand> demands;
  for (const auto& name : outcome.troubles) {
    const auto& entry = trouble(plan.troubles, name);
    base::Random chance = random.stream(name);
    entry.call.apply(make, chance);
    calls.push_back(entry.call);
    if (!has_kind(plan.sequence, entry.call.demand.kind)) calls.back().demand = Demand{};
    demands.push_back(calls.back().demand);
  }

  boost::asio::io_context loop(1);
  const SettleStore settle{plan.store_thread};
  const auto wall = base::wall_timeline(loop);
  const auto simulated =
      occasion.begun ? base::simulated_timeline(loop, *occasion.begun) : base::simulated_timeline(loop);
  JumpingClock timeline(*simulated, make.surroundings);
  FullStore kept(store, make.surroundings.store_full_from);
  SimulatedBench bench(timeline, make);
  auto server = std::make_shared<transport::memory::MemoryServer>();
  for (const auto& [role, device] : bench.devices()) server->add(role, device);
  transport::Transports transports;
  transport::add_memory(transports, server);
  bench::BenchFile reached = in_memory(plan.bench);
  if (!occasion.bench.empty()) reached.name = occasion.bench;
  for (std::size_t i = 0; i < reached.instruments.size(); ++i)
    reached.instruments[i].calibration_due = make.instruments[i].calibration_due;

  record::RunJournal journal(kept, timeline, plan.store_thread);
  sequence::RunSetting setting{
      .timeline = timeline,
      .bench = reached,
      .model = plan.model,
      .open = phrasebook::opener(plan.phrasebooks, transports, timeline),
      .operator_ = bench.person(),
      .run = journal.run(),
      .serial = outcome.serial,
      .seed = make.person_seed,
      .rehearsal_seed = plan.seed,
  };
  auto main = [](sequence::RunResult& into, const sequence::Sequence& sequence, sequence::RunSetting how,
                 event::Journal& record, std::vector<event::Listener*> told,
                 boost::asio::cancellation_slot stop) -> task<> {
    const auto executor = co_await boost::asio::this_coro::executor;
    into = co_await boost::asio::co_spawn(executor, sequence::run(sequence, std::move(how), record, std::move(told)),
                                          boost::asio::bind_cancellation_slot(stop, boost::asio::use_awaitable));
  };
  boost::asio::cancellation_signal cancel;
  const std::stop_callback stopper(plan.stop, [&] {
    boost::asio::post(loop, [&cancel] { cancel.emit(boost::asio::cancellation_type::terminal); });
  });
  Told told;
  std::vector<event::Listener*> all_told = listeners;
  all_told.push_back(&told);
  timeline.run(main(outcome.result, plan.sequence, std::move(setting), journal, std::move(all_told), cancel.slot()));

  outcome.simulated_s = base::to_seconds(timeline.now());
  outcome.wall_s = base::to_seconds(wall->now());
  outcome.truths = truths_of(bench.player(), outcome.result.readings);
  outcome.deeds = bench.person().done();
  outcome.turns = turns_done(bench.player(), outcome.deeds, outcome.simulated_s);
  outcome.told = told.all(outcome.result);
  outcome.wrong = what_is_wrong(outcome.result, outcome.truths, demands);
  outcome.caught = caught(outcome.result, outcome.truths, calls, outcome.told);
  return outcome;
}

void rehearse(const RehearsalPlan& plan, record::Store& store, const std::function<void(UnitOutcome&&)>& done) {
  for (const auto& name : plan.wanted_troubles) trouble(plan.troubles, name);  // refused before anything runs

  std::atomic<int> next{plan.first};
  const int last = plan.first + plan.units - 1;
  std::mutex mutex;
  std::map<int, UnitOutcome> waiting;  // finished before their turn
  int turn = plan.first;
  std::exception_ptr first_error;

  const auto work = [&] {
    for (;;) {
      const int number = next.fetch_add(1);
      if (number > last || plan.stop.stop_requested()) return;
      try {
        auto outcome = rehearse_unit(plan, number, store);
        const std::lock_guard lock(mutex);
        if (first_error) return;
        waiting.emplace(number, std::move(outcome));
        for (auto it = waiting.find(turn); it != waiting.end(); it = waiting.find(++turn)) {
          done(std::move(it->second));
          waiting.erase(it);
        }
      } catch (...) {
        const std::lock_guard lock(mutex);
        if (!first_error) first_error = std::current_exception();
        next = last + 1;
        return;
      }
    }
  };
  const int count = std::clamp(plan.threads, 1, std::max(1, plan.units));
  std::vector<std::thread> threads;
  for (int i = 1; i < count; ++i) threads.emplace_back(work);
  work();
  for (auto& thread : threads) thread.join();
  if (first_error) std::rethrow_exception(first_error);
}

}  // namespace eyelevel::sim
