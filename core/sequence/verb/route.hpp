// SPDX-License-Identifier: Apache-2.0
// The verb `route`: closes the named ways of a relay box, and only those.
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_route(Verbs& verbs);

}  // namespace eyelevel::sequence
