// SPDX-License-Identifier: Apache-2.0
#include "core/record/archive/put_away.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "core/base/error.hpp"
#include "core/record/archive/sync.hpp"
#include "core/record/books/keeping.hpp"

namespace eyelevel::record {

namespace {

namespace fs = std::filesystem;
using base::Error;
using base::ErrorCode;

bool is_last_proof(Store& store, const RunSummary& run) {
  if (run.proves.empty()) return false;
  RunQuery later;
  later.bench = run.bench;
  later.proves = run.proves;
  for (const RunSummary& proof : store.runs(later))
    if (proof.ended == "finished") return proof.id == run.id;
  return false;
}

bool was_restored_since(Store& store, const RunSummary& run, base::UtcTime since) {
  const auto entries = store.book({.kind = Fields<RunRestored>::name, .subject = run.id});
  return std::any_of(entries.begin(), entries.end(), [&](const BookEntry& entry) { return entry.placed >= since; });
}

}  // namespace

std::vector<RunSummary> runs_to_put_away(Store& store, base::UtcTime before) {
  RunQuery query;
  query.until = before;
  query.at_most = static_cast<std::size_t>(-1);
  auto runs = store.runs(query);
  std::erase_if(runs, [&](const RunSummary& run) {
    return run.ended.empty() || is_last_proof(store, run) || was_restored_since(store, run, before);
  });
  return runs;
}

Archived put_away(const fs::path& file, Store& store, std::span<const RunSummary> runs, const Said& said) {
  if (fs::exists(file))
    throw Error(ErrorCode::bad_input, fmt::format("{} is there already; nothing was moved", file.string()),
                "name a new file");
  const Archived written = write_archive(file, store, runs, entries_of_runs(store, runs));
  const RunArchived where{fs::absolute(file).string()};
  for (const RunSummary& run : runs_in_archive(file, store)) {
    const BookEntry entry = entry_of(where, run.id, run.serial, said);
    store.drop(run.id, std::span(&entry, 1));
  }
  return written;
}

Archived restore(const fs::path& file, Store& store, const Said& said) {
  const auto runs = runs_in_archive(file, store);
  const Archived taken = read_archive(file, store);
  std::vector<BookEntry> entries;
  for (const RunSummary& run : runs)
    entries.push_back(entry_of(RunRestored{fs::absolute(file).string()}, run.id, run.serial, said));
  store.note(entries);
  return taken;
}

}  // namespace eyelevel::record
