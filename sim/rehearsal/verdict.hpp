// SPDX-License-Identifier: Apache-2.0
// Whether a rehearsed unit ended as the simulated physics and its troubles demand. Kept apart from everything it
// checks.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
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

// What became of the troubles of a unit.
enum class Caught {
  named,          // did not pass, and was told what it is
  misnamed,       // did not pass, and was told something else
  harmless,       // ended as it would have ended without
  left_to_proof,  // passed wrongly where only a proof of the bench shows the trouble
  wrong_pass,     // passed, and should not have
};
std::string_view name_of(Caught caught);

// Empty without troubles, unless such a unit passed wrongly, too: a reading passes whose truth lies outside its limit
// by more than 3 standard uncertainties. With troubles also: the run passed where one of them forbids it. `told` is
// what the technician was told.
std::optional<Caught> caught(const sequence::RunResult& result, const std::map<std::string, double>& truths,
                             const std::vector<TroubleCall>& troubles, const std::vector<std::string>& told);

}  // namespace eyelevel::sim
