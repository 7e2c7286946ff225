// SPDX-License-Identifier: Apache-2.0
// After a lost connection: every instrument is greeted anew (which opens what was lost, and finds out when power was
// lost or another instrument answers) and what steps have set up is set up anew, as the record says. How often that may
// happen is the runner's to say.
#pragma once

#include "core/base/error.hpp"
#include "core/event/event.hpp"
#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

// Tells Noted with `lost`, and Set for each setting. Throws what the instruments throw, and Error(connection_lost) when
// another instrument than before answers.
task<> reopen(RunContext& context, const event::Place& place, const base::ErrorRecord& lost);

}  // namespace eyelevel::sequence
