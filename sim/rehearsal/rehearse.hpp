// SPDX-License-Identifier: Apache-2.0
// Rehearsals: a checked sequence run against simulated units, each on a bench of its own, in simulated time. Unit N of
// a seed is the same whatever else is rehearsed with it. Each unit has its own loop and Timeline; units are spread over
// threads. The same seed on the same processor gives the same results.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <stop_token>
#include <string>
#include <vector>

#include "core/bench/bench_file.hpp"
#include "core/bench/model_sheet.hpp"
#include "core/record/journal/store_thread.hpp"
#include "core/record/store/store.hpp"
#include "core/sequence/runner/run.hpp"
#include "instruments/phrasebook/open.hpp"
#include "sim/rehearsal/turning.hpp"
#include "sim/rehearsal/verdict.hpp"
#include "sim/trouble/trouble.hpp"

namespace eyelevel::sim {

// What all units of a rehearsal share. References must outlive it.
struct RehearsalPlan {
  const sequence::Sequence& sequence;
  const bench::BenchFile& bench;  // accuracies and roles; resources are not used
  const bench::ModelSheet* model = nullptr;
  const phrasebook::Phrasebooks& phrasebooks;
  const Troubles& troubles;
  std::uint64_t seed = 1;
  int first = 1;  // number of the first unit
  int units = 1;
  std::vector<std::string> wanted_troubles;      // every unit has these
  std::map<std::string, std::string> answers{};  // of the operator, by name or by the text of the prompt
  double trouble_rate = 0;                       // each unit has one random trouble with this probability
  int threads = 2;
  record::StoreThread* store_thread = nullptr;  // needed by a store that does not work inline
  std::stop_token stop{};  // asked to stop: units under way close as stopped, no further one begins
};

struct UnitOutcome {
  std::string serial;
  std::string model;
  sequence::RunResult result;
  std::vector<std::string> troubles;
  std::map<std::string, double> truths;  // by reading
  std::vector<SimulatedOperator::Done> deeds;
  std::vector<TurnDone> turns;    // of the trimmer
  std::string wrong;              // empty: ended as it must
  std::vector<std::string> told;  // what the technician was told
  std::optional<Caught> caught;   // what became of the troubles
  double simulated_s = 0;
  double wall_s = 0;
};

// A bench whose instruments are reached through memory: every resource becomes that of its role.
bench::BenchFile in_memory(bench::BenchFile bench);

// One unit, number from 1, its events into the store. Throws base::Error(bad_input) for an unknown trouble.
UnitOutcome rehearse_unit(const RehearsalPlan& plan, int number, record::Store& store,
                          const std::vector<event::Listener*>& listeners = {});

// All units; `done` is called from one thread at a time, in the order of numbers. Fewer when asked to stop.
void rehearse(const RehearsalPlan& plan, record::Store& store, const std::function<void(UnitOutcome&&)>& done);

}  // namespace eyelevel::sim
