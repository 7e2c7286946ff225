// SPDX-License-Identifier: Apache-2.0
#include "core/record/bench_proof.hpp"

#include <chrono>

#include "core/record/journal/event_json.hpp"

namespace eyelevel::record {

event::BenchProof last_proof(Store& store, const std::string& bench, base::UtcTime now, double lasts_s) {
  RunQuery query;
  query.bench = bench;
  query.proves = "bench";
  for (const RunSummary& run : store.runs(query)) {
    if (run.ended != "finished" || !run.closed) continue;
    const std::chrono::duration<double> age = now - *run.closed;
    return {run.id, utc_text(*run.closed), run.judgement, age.count() > lasts_s};
  }
  return {};
}

}  // namespace eyelevel::record
