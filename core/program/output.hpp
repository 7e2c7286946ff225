// SPDX-License-Identifier: Apache-2.0
// Standard output and standard error, which may be full, closed or a pipe that nobody reads: a run goes on whatever
// becomes of its story, but an exit status never says that all went well when output was lost.
#pragma once

#include <cstdio>
#include <string_view>

namespace eyelevel::program {

// Before anything is opened: a standard stream that was closed is held by a place that refuses every byte, so that no
// file or socket opened later takes its number and gets what was meant for it.
void hold_standard_streams();

// Writes and flushes; never throws. What could not be written leaves the stream in error.
void put(std::FILE* out, std::string_view text) noexcept;

// Flushes standard output. `status` as it is when all of it was written; else says so on standard error and gives 3
// where nothing worse had happened.
int status_after_output(int status);

// Whether standard output has failed.
bool is_output_lost();

}  // namespace eyelevel::program
