// SPDX-License-Identifier: Apache-2.0
// Plays a week of a workshop (week.hpp): each visit as a rehearsed run with its date, bench and person, and what stands
// of the unit in the books. The same file and processor give the same record.
#pragma once

#include <functional>

#include "sim/rehearsal/rehearse.hpp"
#include "sim/rehearsal/week.hpp"

namespace eyelevel::sim {

// `plan`: its seed, units and troubles are not used. `done` is called visit by visit, in their order; fewer when the
// plan asks to stop.
void play(const Week& week, RehearsalPlan plan, record::Store& store,
          const std::function<void(const WeekVisit&, const UnitOutcome&)>& done);

}  // namespace eyelevel::sim
