// SPDX-License-Identifier: Apache-2.0
// The verb `prove`: an item of a bench proof that is no number. What each item is, is said in prove.cpp at its
// function.
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_prove(Verbs& verbs);

}  // namespace eyelevel::sequence
