// SPDX-License-Identifier: Apache-2.0
// A bench and a job as the API shows them (README.md of this folder).
#pragma once

#include <boost/json/object.hpp>

#include "core/record/store/jobs.hpp"
#include "core/sequence/language/explain.hpp"
#include "core/service/bench_owner.hpp"
#include "core/service/schedule.hpp"

namespace eyelevel::service {

boost::json::object bench_json(const BenchOwner& owner, const BenchOperator& person);
boost::json::object job_json(const record::Job& job);
// With the moment when the next job of it comes, after `now`.
boost::json::object schedule_json(const Schedule& schedule, base::UtcTime now);
// What `eyelevel explain --json` prints.
boost::json::object explanation_json(const sequence::Sequence& sequence, const sequence::Explanation& explained);

}  // namespace eyelevel::service
