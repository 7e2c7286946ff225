// SPDX-License-Identifier: Apache-2.0
// The verb `work out`: a reading made of readings of earlier steps by an expression (expression/expression.hpp).
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_work_out(Verbs& verbs);

}  // namespace eyelevel::sequence
