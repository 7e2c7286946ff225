// SPDX-License-Identifier: Apache-2.0
// The state folder of a daemon as a backup: records and captures, jobs, users, what a shared store does not have yet,
// the daemon's name and certificate. Made while the daemon runs; each file is as it stood at one instant. `backup.json`
// in it says what belongs to it, so that one that is incomplete or damaged is never taken for a backup.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "core/base/timeline.hpp"

namespace eyelevel::program {

// `to` must be absent or empty; it is there as a whole or not at all. Gives the names of what is in it. Throws
// base::Error(bad_input), Error(not_found) when `state` holds nothing.
std::vector<std::string> back_up_state(const std::filesystem::path& state, const std::filesystem::path& to,
                                       base::UtcTime now);

// Everything is checked before `state`, which must be absent or empty, is made. Throws base::Error(bad_input).
std::vector<std::string> restore_state(const std::filesystem::path& from, const std::filesystem::path& state);

}  // namespace eyelevel::program
