// SPDX-License-Identifier: Apache-2.0
// What a run that was broken off is gone on with, from its record.
#pragma once

#include <string>

#include "core/event/event.hpp"
#include "core/record/run_record.hpp"
#include "core/sequence/language/sequence.hpp"

namespace eyelevel::service {

struct Resumed {
  std::string run;
  event::Begun begun;
  event::Reached reached;  // the last step it came to that says `resume here`
};

// Throws Error(bad_input) when the run has nothing left to be done; not_found for no such run.
Resumed resumed(record::Store& store, const std::string& run);

// Throws Error(bad_input) when the sequence is not the one that the run was made with.
void require_same(const sequence::Sequence& sequence, const Resumed& resumed);

}  // namespace eyelevel::service
