// SPDX-License-Identifier: Apache-2.0
// The verbs `together`, whose steps are done at the same time on different instruments, and `in this order`, which
// makes one step of several.
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_together(Verbs& verbs);
void register_in_this_order(Verbs& verbs);

}  // namespace eyelevel::sequence
