// SPDX-License-Identifier: Apache-2.0
// The verb `set up`: brings the instrument of a signal into a stated state and records what it reads back. Which keys a
// signal takes depends on its instrument: probe, coupling, screen, bandwidth for an oscilloscope; range, aperture for a
// multimeter. That settings serve what was asked is seen to by the instrument's kind (core/bench/kind).
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_set_up(Verbs& verbs);

}  // namespace eyelevel::sequence
