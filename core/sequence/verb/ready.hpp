// SPDX-License-Identifier: Apache-2.0
// The verbs that are shipped. One pair of files each; a further one is registered beside them in the same way.
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_ready_verbs(Verbs& verbs);
// All that is shipped: verbs and measures.
Language ready_language();

}  // namespace eyelevel::sequence
