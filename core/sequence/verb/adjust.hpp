// SPDX-License-Identifier: Apache-2.0
// The verb `adjust`: guides the operator's screwdriver until a reading is within limits, turn by turn with the player
// off, never above a ceiling, and says why where no turn helps. The cycle is adjusting.hpp, what to advise
// core/guide/advice.hpp. Always with the player off: turning live is not guided.
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_adjust(Verbs& verbs);

}  // namespace eyelevel::sequence
