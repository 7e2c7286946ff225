// SPDX-License-Identifier: Apache-2.0
#include "core/record/move_runs.hpp"

namespace eyelevel::record {

Moved move_runs(Store& from, Store& to) {
  RunQuery all;
  all.at_most = static_cast<std::size_t>(-1);
  Moved done;
  to.bring_entries(from.book({}));
  for (const RunSummary& run : from.runs(all)) {
    if (run.ended.empty()) {
      ++done.left;
      continue;
    }
    to.bring(run.id, from.events(run.id, Samples::all), run.program);
    from.drop(run.id, {});
    ++done.moved;
  }
  return done;
}

}  // namespace eyelevel::record
