// SPDX-License-Identifier: Apache-2.0
// Readings and counts of runs as statistics may use them: after the corrections of the books. A reading that was struck
// out is left out, a corrected value stands and is judged again, and a run whose serial or model was corrected is found
// and counted as it is right.
#pragma once

#include <vector>

#include "core/record/store/store.hpp"

namespace eyelevel::record {

// Newest first.
std::vector<ReadingRow> find_readings(Store& store, const ReadingQuery& query);

// The judgement of a run stays the one that was recorded.
std::vector<Tally> find_tallies(Store& store, const TallyQuery& query);

}  // namespace eyelevel::record
