// SPDX-License-Identifier: Apache-2.0
// Brings the instrument of a signal into a stated state, whatever its kind; every setting is read back by its driver.
#pragma once

#include <vector>

#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

// Nothing is sent when nothing was stated. Throws LeftOut and what the instruments throw.
task<std::vector<bench::SettingTaken>> apply(RunContext& context, const SignalPlace& signal, const SignalSetUp& how);

}  // namespace eyelevel::sequence
