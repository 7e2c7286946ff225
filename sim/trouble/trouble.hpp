// SPDX-License-Identifier: Apache-2.0
// Faults that a rehearsal switches on, found by name in a register. Each is data: what it changes on the healthy unit
// that was drawn, how often it is fair, and how a run with it must end. To add one: a function in the file of its kind
// and one row in its table; an expectation comes with it.
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
    by_truth,  // finished, and judged as the simulated physics has it; or stopped with one of `codes`
    stopped,   // stopped with one of `codes`
    not_pass,  // finished or stopped, but never passed
    any,       // only must end cleanly: closing ran, the record reads
  };
  Ending ending = Ending::by_truth;
  std::vector<base::ErrorCode> codes;
  // An item of a bench proof, a measure or a reading that shows the trouble wherever a sequence looks at it: it must be
  // judged, and not passed. Empty: nothing does.
  std::string shown_by{};
};

struct TroubleCall {
  std::function<void(UnitMake&, base::Random&)> apply;
  Demand demand;
};
using Troubles = registers::Register<TroubleCall>;

void register_pickup_troubles(Troubles& troubles);      // the player's own
void register_wiring_troubles(Troubles& troubles);      // between pad and instrument
void register_instrument_troubles(Troubles& troubles);  // what instruments do
void register_bench_troubles(Troubles& troubles);       // what only a proof of the bench shows
Troubles ready_troubles();

}  // namespace eyelevel::sim
