// SPDX-License-Identifier: Apache-2.0
// Whether a rehearsed unit ended as the simulated physics and its troubles demand. Kept apart from everything it
// checks.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "core/sequence/runner/run.hpp"
#include "sim/trouble/trouble.hpp"

namespace eyelevel::sim {

// Empty when the unit ended as it must; otherwise one sentence that says what is wrong.
//  - without troubles, and for troubles of the physics: the run finishes; no reading passes whose truth lies outside
//  its
//    limit, none fails whose truth lies inside. A stated interval holds its truth in 95 of 100 cases only, so a truth
//    nearer to the limit than the expanded uncertainty excuses either.
//  - several troubles at once: any ending that one of them demands is right.
std::string what_is_wrong(const sequence::RunResult& result, const std::map<std::string, double>& truths,
                          const std::vector<Demand>& demands);

}  // namespace eyelevel::sim
