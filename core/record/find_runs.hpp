// SPDX-License-Identifier: Apache-2.0
// Runs as they are looked for: those whose serial or model was corrected are found, and shown, as they are right.
#pragma once

#include <vector>

#include "core/record/store/store.hpp"

namespace eyelevel::record {

// Newest first.
std::vector<RunSummary> find_runs(Store& store, const RunQuery& query);

}  // namespace eyelevel::record
