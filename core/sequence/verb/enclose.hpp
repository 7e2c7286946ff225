// SPDX-License-Identifier: Apache-2.0
// The verb `enclose`: the operator hands over a photo or a text, which goes into the record.
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_enclose(Verbs& verbs);

}  // namespace eyelevel::sequence
