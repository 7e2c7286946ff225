// SPDX-License-Identifier: Apache-2.0
// The verb `diagnose`: what the readings and answers of earlier steps say of the pickup, the disc and the bench. It
// asks the operator for the next checks, the one that tells most first, as many as it may; each comes with the sentence
// that says how it is done without danger. The findings are told as event::Diagnosed after every answer.
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_diagnose(Verbs& verbs);

}  // namespace eyelevel::sequence
