// SPDX-License-Identifier: Apache-2.0
// `eyelevel run --resume RUN`: what is gone on with, from the record of a run that was broken off.
#pragma once

#include <string>
#include <vector>

#include "core/event/event.hpp"
#include "core/record/run_record.hpp"
#include "core/sequence/language/sequence.hpp"

namespace eyelevel::program {

struct Resumed {
  std::string run;
  event::Begun begun;
  event::Reached reached;  // the last step it came to that says `resume here`
};

// Throws Error(bad_input) when the run has nothing left to be done, or `set` and `serial` ask for another one than it
// was; not_found for no such run.
Resumed resumed(record::Store& store, const std::string& run, const std::vector<std::string>& set,
                const std::string& serial);

// What was asked at the start stays as it was: NAME=VALUE.
std::vector<std::string> given_in(const Resumed& resumed);

// Throws Error(bad_input) when the sequence is not the one that the run was made with.
void require_same(const sequence::Sequence& sequence, const Resumed& resumed);

}  // namespace eyelevel::program
