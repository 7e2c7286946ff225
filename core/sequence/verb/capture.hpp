// SPDX-License-Identifier: Apache-2.0
// The verb `capture`: takes waveforms of a signal, unevenly spread over several turns of the disc, until enough settled
// ones are kept (settling.hpp: by clock lock and I3/I11, never by level). Every try goes into the record with why it
// was not kept; the analyses of the kept ones stay for `measure`.
#pragma once

#include <memory>

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

struct CaptureSetting {
  SignalPlace signal;
  double each_s = 0;
  long long keep = 0;
  long long try_at_most = 0;
  double reject_at_most = 1.0 / 3;  // share of the tries
};

// What the verb does, for verbs that capture on their way: gives a CaptureSet under the name of the step it is run
// with.
std::shared_ptr<const Action> capture_action(CaptureSetting setting);

void register_capture(Verbs& verbs);

}  // namespace eyelevel::sequence
