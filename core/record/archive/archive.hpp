// SPDX-License-Identifier: Apache-2.0
// Runs and books as one file that comes in again as it went out: every event, sample and enclosure, every entry.
// Format "eyelevel records", version 1, lines as frame.hpp has them: the heading { "format", "version" }; for each run,
// oldest first, { "run", "program", "events" } and its events as they are kept, each with its chunks behind it
// ({ "chunk", "part", "bytes" }, journal/chunks.hpp); the entries of the books in the order in which they hold,
// { "entry" }; at the end { "end": { "runs", "entries" } }. Exported again from an empty store that took it in, the
// file has the same bytes.
#pragma once

#include <cstddef>
#include <filesystem>
#include <span>

#include "core/record/store/store.hpp"

namespace eyelevel::record {

inline constexpr int archive_version = 1;

struct Archived {
  std::size_t runs = 0;
  std::size_t entries = 0;
  std::size_t left = 0;  // runs that are not closed: somebody may be writing them
};

// The entries that belong to these runs: of the runs, their units, and the pickups that were in those.
std::vector<BookEntry> entries_of_runs(Store& store, std::span<const RunSummary> runs);

// Writes the closed ones of the runs and the entries. The file is there as a whole, on the disk, or not at
// all. Throws Error(bad_input) naming the path when it cannot be written.
Archived write_archive(const std::filesystem::path& path, Store& store, std::span<const RunSummary> runs,
                       std::span<const BookEntry> entries);

// Reads the whole archive and holds it against the store, as read_archive does, but takes nothing in: the runs in it,
// oldest first.
std::vector<RunSummary> runs_in_archive(const std::filesystem::path& path, Store& store);

// Takes in all that `store` does not have yet. The whole file is read and held against the store first: one that is
// cut, damaged, of a newer program, or at odds with a run that is there changes nothing. Throws Error(bad_input) with
// the line. Should the store fail while it is written, each run is in it as a whole or not at all, and doing it again
// completes it.
Archived read_archive(const std::filesystem::path& path, Store& store);

}  // namespace eyelevel::record
