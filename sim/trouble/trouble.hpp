// SPDX-License-Identifier: Apache-2.0
// Faults that a rehearsal switches on, found by name in a register. Each is data: what it changes on the healthy unit
// that was drawn, what the technician must be told of it, and how a run with it must end. To add one: a row in the file
// of its kind.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "core/base/error.hpp"
#include "core/base/random.hpp"
#include "core/register/register.hpp"
#include "sim/unit/unit_make.hpp"

namespace eyelevel::sim {

// How a rehearsed run must end.
struct Demand {
  enum class Ending {
    by_truth,   // finished, and judged as the simulated physics has it; or stopped with one of `codes`
    stopped,    // stopped with one of `codes`
    no_eye,     // no eye is ever measured: stopped with one of `codes`, or finished without having looked for one
    true_pass,  // stopped or not passed; what passes is true of the player
    not_pass,   // finished or stopped, but never passed
    any,        // only must end cleanly: closing ran, the record reads
  };
  Ending ending = Ending::by_truth;
  std::vector<base::ErrorCode> codes;
  // Items of a bench proof, measures or readings that show the trouble wherever a sequence looks at them: each must be
  // judged, and not passed.
  std::vector<std::string> shown_by{};
  // It shows only in what this kind of instrument sees: a sequence without one must end as if there were no trouble.
  std::string kind{};
};

// "stops with time_out"
std::string in_words(const Demand& demand);

struct TroubleCall {
  std::function<void(UnitMake&, base::Random&)> apply;
  Demand demand;
  std::string told;                // what the technician must be told when the run does not pass
  std::vector<std::string> words;  // told when one of these stands in an error, a note, a failed judgement or a finding
};
using Troubles = registers::Register<TroubleCall>;

// A trouble as it stands in the tables of this folder.
struct TroubleRow {
  const char* name;
  const char* about;
  const char* told;
  std::vector<std::string> words;
  Demand demand;
  std::function<void(UnitMake&, base::Random&)> apply;
};
void add(Troubles& troubles, const std::vector<TroubleRow>& rows);

void register_pickup_troubles(Troubles& troubles);      // the player's own
void register_disc_troubles(Troubles& troubles);        // the disc that lies in it
void register_person_troubles(Troubles& troubles);      // what the operator does and leaves undone
void register_wiring_troubles(Troubles& troubles);      // between pad and instrument
void register_instrument_troubles(Troubles& troubles);  // what instruments do
void register_bench_troubles(Troubles& troubles);       // what only a proof of the bench shows
void register_house_troubles(Troubles& troubles);       // the record and the computer
Troubles ready_troubles();

}  // namespace eyelevel::sim
