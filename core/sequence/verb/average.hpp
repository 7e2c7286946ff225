// SPDX-License-Identifier: Apache-2.0
// The verb `average`: of readings (a list of names: their mean, budgets combined source by source), or of a triggered
// signal (its mean waveform over `count` acquisitions).
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_average(Verbs& verbs);

}  // namespace eyelevel::sequence
