// SPDX-License-Identifier: Apache-2.0
// The verbs `if`, which does the steps of `then` where its condition (expression/condition.hpp) holds and those of
// `otherwise` where it does not, and `finish`, which goes to the closing at once. Where a reading of the condition was
// not had, neither is done, and the record says so.
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

// The condition under a key as an action that gives a Decision; empty when it has mistakes.
std::shared_ptr<const Action> read_condition(StepReader& reader, std::string_view key);

void register_if(Verbs& verbs);
void register_finish(Verbs& verbs);

}  // namespace eyelevel::sequence
