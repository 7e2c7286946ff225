// SPDX-License-Identifier: Apache-2.0
// The verb `make safe`: leaves one instrument, or every one, harmless. All are tried, also when one of them fails.
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_make_safe(Verbs& verbs);

}  // namespace eyelevel::sequence
