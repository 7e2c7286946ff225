// SPDX-License-Identifier: Apache-2.0
// Samples of old runs make room: of each series of captures three stay, the first, the last and the one whose level is
// the median, so that an eye can still be drawn and looked at. Every event, reading and judgement stays, and the levels
// of those that go are written into the books, so that the sheet still shows them. Tries of a series that were not kept
// for the measurement are a series of their own: they show what was wrong with them.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "core/record/books/body.hpp"
#include "core/record/books/keeping.hpp"
#include "core/record/store/store.hpp"

namespace eyelevel::report {

struct ThinningPlan {
  std::string run;
  record::CapturesThinned said;
  std::uint64_t samples = 0;  // that go
};

// Closed runs that began before that time and were not looked at yet, newest first.
std::vector<record::RunSummary> runs_to_thin_out(record::Store& store, base::UtcTime before);

// What would go; nothing where the books say that it was done already. Analyses every capture of a series that is
// longer than three, one at a time.
ThinningPlan plan_thinning(record::Store& store, const std::string& run);

// Does it, in one transaction, and says so in the books where anything went. False: the run is not closed, or somebody
// else has done it meanwhile.
bool thin_out(record::Store& store, const ThinningPlan& plan, const record::Said& said);

}  // namespace eyelevel::report
