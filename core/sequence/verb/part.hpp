// SPDX-License-Identifier: Apache-2.0
// The verb `part`: steps that stand in a file of their own (language/part.hpp).
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_part(Verbs& verbs);

}  // namespace eyelevel::sequence
