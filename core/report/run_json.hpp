// SPDX-License-Identifier: Apache-2.0
// A stored run as the entry of `units` that `run --json` and `rehearse --json` print. The keys are fixed; whoever
// prints adds what the record does not know (simulated_s, wall_s, truth).
#pragma once

#include <boost/json/object.hpp>
#include <boost/json/value.hpp>

#include "core/base/error.hpp"
#include "core/metrology/reading.hpp"
#include "core/record/run_record.hpp"

namespace eyelevel::report {

// { serial, model, run, ended, judgement, bench_proof, proofs, readings, corrections, findings, error }. `ended` is
// null while the run is not closed.
boost::json::object unit_json(const record::RunRecord& run);

boost::json::object reading_json(const metrology::Reading& reading);

// { proven, run, at_utc, judgement, old }; null when nobody looked, as in rehearsals.
boost::json::value proof_json(const std::optional<event::BenchProof>& proof);

// { code, where, message }
boost::json::object error_json(const base::ErrorRecord& error);

// One line of `records --json`: { run, begun_utc, closed_utc, sequence, serial, model, bench, ended, judgement,
// operator, program }.
boost::json::object summary_json(const record::RunSummary& summary);

}  // namespace eyelevel::report
