// SPDX-License-Identifier: Apache-2.0
// Old runs go, whole, from the store into an archive, and come back. Killed at any instant, each run is in the store or
// in an archive that was read back, or in both; doing it again then puts it into a further archive, which takes nothing
// from either.
#pragma once

#include <filesystem>
#include <span>
#include <vector>

#include "core/record/archive/archive.hpp"
#include "core/record/books/body.hpp"

namespace eyelevel::record {

// Closed runs that began before that time, newest first; but for the last proof of each bench, which counts on, and for
// runs that were restored since.
std::vector<RunSummary> runs_to_put_away(Store& store, base::UtcTime before);

// Writes the closed ones of the runs, with the entries of the books that belong to them, into a new file, reads it back
// against the store, and only then drops them from the store, each with an entry that says where it is. The entries
// stay in the books, too. Throws Error(bad_input) when there is a file of that name already, or it cannot be written.
Archived put_away(const std::filesystem::path& file, Store& store, std::span<const RunSummary> runs, const Said& said);

// As read_archive, and says so of each run, which then stays.
Archived restore(const std::filesystem::path& file, Store& store, const Said& said);

}  // namespace eyelevel::record
