// SPDX-License-Identifier: Apache-2.0
// The verb `note`: a remark into the record. Touches nothing.
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_note(Verbs& verbs);

}  // namespace eyelevel::sequence
