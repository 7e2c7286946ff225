// SPDX-License-Identifier: Apache-2.0
// The verb `prompt`: asks the operator and waits for the answer, at most `within`.
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_prompt(Verbs& verbs);

}  // namespace eyelevel::sequence
