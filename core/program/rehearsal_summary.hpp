// SPDX-License-Identifier: Apache-2.0
// What `rehearse` says after its units: how they ended, what became of each trouble, which steps and branches of the
// sequence were reached, and how long it took; for people and as JSON.
#pragma once

#include <boost/json/object.hpp>

#include "sim/rehearsal/coverage.hpp"
#include "sim/rehearsal/tally.hpp"

namespace eyelevel::program {

void print_summary(const sim::Tally& tally, const sim::Coverage& coverage, double wall_s);

// { endings, troubles, wrong_passes, coverage: { steps, branches } }
boost::json::object summary_json(const sim::Tally& tally, const sim::Coverage& coverage);

}  // namespace eyelevel::program
