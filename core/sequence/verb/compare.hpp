// SPDX-License-Identifier: Apache-2.0
// The verb `compare`: `A with B`, as a difference A - B or a ratio A / B. What both share, such as the gain of one
// instrument, cancels in the budget as it does in fact (GUM 5.2).
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_compare(Verbs& verbs);

}  // namespace eyelevel::sequence
