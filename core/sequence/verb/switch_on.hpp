// SPDX-License-Identifier: Apache-2.0
// The verbs `switch on` and `switch off`: an output of a power supply or function generator that was set up before.
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_switch_on(Verbs& verbs);
void register_switch_off(Verbs& verbs);

}  // namespace eyelevel::sequence
