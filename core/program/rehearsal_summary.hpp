// SPDX-License-Identifier: Apache-2.0
// What a rehearsal says of each unit, and after them: how they ended, what became of each trouble, which steps and
// branches of the sequence were reached, and how long it took; for people and as JSON.
#pragma once

#include <boost/json/object.hpp>

#include "core/record/store/store.hpp"
#include "sim/rehearsal/coverage.hpp"
#include "sim/rehearsal/tally.hpp"

namespace eyelevel::program {

void print_summary(const sim::Tally& tally, const sim::Coverage& coverage, double wall_s);

// The unit of the contract, with what became of it: `wrong` and `caught`.
boost::json::object rehearsed_json(record::Store& store, const sim::UnitOutcome& unit);

// { endings, troubles, wrong_passes, coverage: { steps, branches } }
boost::json::object summary_json(const sim::Tally& tally, const sim::Coverage& coverage);

}  // namespace eyelevel::program
