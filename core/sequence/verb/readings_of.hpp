// SPDX-License-Identifier: Apache-2.0
// What the names in an expression are worth: the readings of earlier steps.
#pragma once

#include <string>

#include "core/sequence/expression/expression.hpp"
#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

// The context must outlive it. Throws LeftOut when an earlier step did not give the reading.
inline ValueOf readings_of(RunContext& context) {
  return [&context](const std::string& name) { return Value{context.reading(name), context.can_pass(name)}; };
}

}  // namespace eyelevel::sequence
