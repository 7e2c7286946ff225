// SPDX-License-Identifier: Apache-2.0
// The verb `repeat`: round after round of the steps of `do`, `at most 6 times` until a condition holds, `6 times`, or
// `every 1 min for 8 h`. It did not come about when its rounds are over and its `until` does not hold. A name that its
// steps give keeps the newest result.
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_repeat(Verbs& verbs);

}  // namespace eyelevel::sequence
