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
  std::vector<std::string> wanted_troubles{};    // every unit has these
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
  std::vector<TurnDone> turns;    // of the trimmer, in order
  std::string wrong;              // empty: ended as it must
  std::vector<std::string> told;  // what the technician was told
  std::optional<Caught> caught;   // what became of the troubles
  double simulated_s = 0;
  double wall_s = 0;
};

// What a rehearsed unit does not draw for itself where a bench stays the same from unit to unit.
struct Occasion {
  std::string serial{};                  // of the unit; empty: of model and number
  std::optional<base::UtcTime> begun{};  // empty: the day on which simulated time begins
  std::string by{};                      // who measures
  std::string bench{};                   // its name; empty: a bench of the unit's own
  double probe_drift = 0;                // relative, of its probes' factors
  std::uint64_t visit = 0;               // another one of the same unit goes on otherwise
  std::vector<std::string> troubles{};
};

// A bench whose instruments are reached through memory: every resource becomes that of its role.
bench::BenchFile in_memory(bench::BenchFile bench);

// "LF2-00012"
std::string serial_of(std::string model, int number);

// One unit, its events into the store. Throws base::Error(bad_input) for an unknown trouble.
UnitOutcome rehearse_unit(const RehearsalPlan& plan, int number, record::Store& store,
                          const std::vector<event::Listener*>& listeners = {}, const Occasion& occasion = {});

// All units; `done` is called from one thread at a time, in the order of numbers. Fewer when asked to stop.
void rehearse(const RehearsalPlan& plan, record::Store& store, const std::function<void(UnitOutcome&&)>& done);

}  // namespace eyelevel::sim
