// SPDX-License-Identifier: Apache-2.0
// For the beginning of a program that analyses: memory that was given back is kept for what comes next, up to some
// megabytes. Fresh memory costs more than what the analysis of a window does with it, above all on virtual machines.
#pragma once

namespace eyelevel::base {

// Does nothing where the C library has no such switch.
void keep_freed_memory();

}  // namespace eyelevel::base
