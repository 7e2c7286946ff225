// SPDX-License-Identifier: Apache-2.0
// A copy of one of this program's SQLite files as it stands at one instant, while others write into it: SQLite's online
// backup (SQLite documentation, "Using the SQLite Online Backup API").
#pragma once

#include <filesystem>

namespace eyelevel::record {

// `to` must not be there; it is on the disk, whole and checked, when this returns, and only its owner may read it. Who
// writes into `from` meanwhile is not kept waiting. Throws Error(not_found), Error(bad_input) naming the file that
// cannot be read or written.
void back_up_file(const std::filesystem::path& from, const std::filesystem::path& to);

// Throws Error(bad_input) when SQLite finds it damaged.
void require_sound(const std::filesystem::path& file);

}  // namespace eyelevel::record
