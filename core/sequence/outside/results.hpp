// SPDX-License-Identifier: Apache-2.0
// Results of a run as plain data for parts that come from outside, and their answers as readings, which are believed
// only as far as they make sense.
#pragma once

#include <string>

#include "core/metrology/reading.hpp"
#include "core/register/outside.hpp"
#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

NameKind name_kind_of(registers::ResultKind kind);

// Throws LeftOut when an earlier step did not give it, Error(bad_input) when it is too long to be handed out.
registers::OutsideResult result_for_outside(RunContext& context, const std::string& name, registers::ResultKind kind);

// Error(bad_answer) unless value, uncertainty and degrees of freedom can be and the unit is the declared one. Its one
// contribution has the part for a source, so that it cancels with nothing else.
metrology::Reading reading_of(const registers::OutsidePart& part, const registers::Answer& answer, std::string name);

}  // namespace eyelevel::sequence
