// SPDX-License-Identifier: Apache-2.0
// Verbs and measures that come from outside, entered into the same registers as what is shipped.
#pragma once

#include "core/register/outside.hpp"
#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

// A part of kind verb or measure. Throws Error(bad_input) when its name is taken, or when one of its keys already means
// something else: the language stays as it was.
void add_outside(Language& language, const registers::OutsidePart& part);

}  // namespace eyelevel::sequence
