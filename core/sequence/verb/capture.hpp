// SPDX-License-Identifier: Apache-2.0
// The verb `capture`: takes waveforms of a signal, unevenly spread over several turns of the disc, until enough settled
// ones are kept (settling.hpp: by clock lock and I3/I11, never by level). Every try goes into the record with why it
// was not kept; the analyses of the kept ones stay for `measure`.
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_capture(Verbs& verbs);

}  // namespace eyelevel::sequence
