// SPDX-License-Identifier: Apache-2.0
// The verb `wait for`: waits until a player really plays an audio track (audio_watch.hpp). A memory that cannot hold a
// block of the Q channel cannot show that: then a locked, settled eye in several captures and the operator's word stand
// in, and the record says so.
#pragma once

#include <memory>

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

// What the verb does, for verbs that wait on their way. Needs a step with `within`.
std::shared_ptr<const Action> wait_for_audio_action(SignalPlace signal);

void register_wait_for(Verbs& verbs);

}  // namespace eyelevel::sequence
