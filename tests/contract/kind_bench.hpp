// SPDX-License-Identifier: Apache-2.0
// What the contract suites of the instrument kinds share: a simulated instrument that can be made to misbehave, reached
// over the memory transport in simulated time and spoken to through a phrasebook. Each suite runs over every built-in
// phrasebook of its kind, so that a new one is tested by being there.
#pragma once

#include <catch2/catch.hpp>

#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "core/base/error.hpp"
#include "core/bench/instrument.hpp"
#include "instruments/phrasebook/standard.hpp"
#include "instruments/transport/transports.hpp"
#include "sim/instrument/misbehaviour.hpp"
#include "tests/support/run_task.hpp"

namespace eyelevel::test {

// The built-in phrasebooks of a kind; a suite without any would prove nothing.
inline std::vector<phrasebook::Phrasebook> phrasebooks_of(const std::string& kind) {
  const auto all = phrasebook::standard_phrasebooks();
  std::vector<phrasebook::Phrasebook> found;
  for (const auto& name : all.names()) {
    phrasebook::Phrasebook book = phrasebook::find_phrasebook(all, name);
    if (book.kind == kind) found.push_back(std::move(book));
  }
  REQUIRE_FALSE(found.empty());
  return found;
}

template <class Kind>
class KindBench {
 public:
  // `make` gives the device for a Timeline, `open` the driver for a session.
  template <class Device, class Open>
  KindBench(std::shared_ptr<Device> (*make)(base::Timeline&), std::shared_ptr<Device>& device, const Open& open) {
    device = make(*sim.timeline);
    spoilt = std::make_shared<sim::MisbehavingDevice>(*sim.timeline, device);
    server->add("it", spoilt);
    transport::Transports transports;
    transport::add_memory(transports, server);
    const auto connect = [](transport::Transports& over, base::Timeline& timeline,
                            std::unique_ptr<transport::Session>& into) -> task<> {
      into = co_await over.open_session("MEMORY::it", timeline, std::chrono::seconds(1));
    };
    std::unique_ptr<transport::Session> session;
    sim.run(connect(transports, *sim.timeline, session));
    instrument = open(*sim.timeline, std::move(session));
    greet();
  }
  ~KindBench() { instrument.reset(); }  // before its loop
  KindBench(const KindBench&) = delete;
  KindBench& operator=(const KindBench&) = delete;

  // The code of the error, or nothing; its words are in `last`.
  std::optional<base::ErrorCode> run(task<> work) {
    last.clear();
    try {
      sim.run(std::move(work));
    } catch (const base::Error& error) {
      last = error.what();
      return error.record().code;
    }
    return std::nullopt;
  }
  std::optional<base::ErrorCode> make_safe() {
    const auto work = [](Kind& it) -> task<> { co_await it.make_safe(std::chrono::seconds(2)); };
    return run(work(*instrument));
  }
  void spoil(sim::Misbehaviour kind, int from_query = 1) {
    sim::Fault fault;
    fault.kind = kind;
    fault.from_query = from_query;
    fault.queries = 1;
    spoilt->add(fault);
  }
  void ignore(const std::string& header) {
    sim::Fault fault;
    fault.kind = sim::Misbehaviour::setting_not_taken;
    fault.header = header;
    spoilt->add(fault);
  }

  Simulated sim;
  std::shared_ptr<sim::MisbehavingDevice> spoilt;
  std::shared_ptr<transport::memory::MemoryServer> server = std::make_shared<transport::memory::MemoryServer>();
  std::unique_ptr<Kind> instrument;
  std::string identity;
  std::string last;

 private:
  void greet() {
    const auto work = [](Kind& it, std::string& into) -> task<> { into = co_await it.greet(std::chrono::seconds(1)); };
    sim.run(work(*instrument, identity));
  }
};

// A device of one kind behind its driver, with what it took and read last. Each call gives the code of its error, or
// nothing.
template <class Kind, class Device>
class DeviceBench {
 public:
  template <class Open>
  DeviceBench(std::shared_ptr<Device> (*make)(base::Timeline&), const Open& open) : kind(make, device, open) {}

  auto take(task<std::vector<bench::SettingTaken>> work) { return kind.run(keep(std::move(work), taken)); }
  auto take(task<double> work) { return kind.run(keep(std::move(work), value)); }

  std::shared_ptr<Device> device;
  KindBench<Kind> kind;
  std::vector<bench::SettingTaken> taken;
  double value = 0;

 private:
  template <class Result>
  static task<> keep(task<Result> work, Result& into) {
    into = co_await std::move(work);
  }
};

// What may go wrong with any query, and the error that names it.
struct Trouble {
  sim::Misbehaviour kind;
  base::ErrorCode code;
  bool seen_by_the_next = false;  // it comes behind the answer of the query that it touches
};

inline std::vector<Trouble> troubles_of_a_query() {
  return {{sim::Misbehaviour::silent, base::ErrorCode::time_out},
          {sim::Misbehaviour::late, base::ErrorCode::time_out},
          {sim::Misbehaviour::garbage, base::ErrorCode::bad_answer},
          {sim::Misbehaviour::stops_within_answer, base::ErrorCode::time_out},
          {sim::Misbehaviour::error_in_queue, base::ErrorCode::instrument_error, true},
          {sim::Misbehaviour::close_in_answer, base::ErrorCode::connection_lost}};
}

}  // namespace eyelevel::test
