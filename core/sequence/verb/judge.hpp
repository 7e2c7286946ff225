// SPDX-License-Identifier: Apache-2.0
// The verb `judge`: holds a reading of an earlier step against a limit (JCGM 106 8.3; core/metrology).
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_judge(Verbs& verbs);

}  // namespace eyelevel::sequence
