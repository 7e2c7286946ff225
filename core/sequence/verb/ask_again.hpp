// SPDX-License-Identifier: Apache-2.0
// A question to the operator, asked again until its answer can be used.
#pragma once

#include <functional>
#include <string>
#include <string_view>

#include "core/bench/operator.hpp"
#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

// What is said of a question that nobody answers as it should be: `"lens" was not answered`.
struct AskWords {
  std::string_view done;    // "answered"
  std::string_view advice;  // when it never was
};

// `use` tells what was answered, and gives why it cannot be used; empty: it was used. Who answers wrongly twenty times
// does not know what is asked: Error(no_answer). `use` and `words` are needed until it is over.
task<> ask_again(RunContext& context, const Step& step, bench::Question question, const AskWords& words,
                 const std::function<std::string(bench::Answer)>& use);

}  // namespace eyelevel::sequence
