// SPDX-License-Identifier: Apache-2.0
// An entry of the workshop's books: something that was said once, by somebody, for a reason, of a thing the workshop
// keeps (a unit, a pickup, a test disc, a run, a model's reference). Entries are only ever added; what holds is folded
// from them in their order (the other files of this folder). What an entry says of its thing is `body`, a JSON mapping
// on one line with a `version`; each kind has its struct.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>

#include "core/base/timeline.hpp"

namespace eyelevel::record {

struct BookEntry {
  std::int64_t number = 0;  // in this store, from 1; the store gives it
  base::UtcTime utc{};      // what the clock said
  // Where it stands among the others: `utc`, but never before an entry that was there already, so that a clock that
  // went back changes the order of nothing. Entries of one place follow each other by number.
  base::UtcTime placed{};
  std::string kind;      // "unit taken in", "pickup fitted", ...
  std::string subject;   // serial, name of the pickup or disc, run, model
  std::string concerns;  // a second thing that it is about, found by it too; may be empty
  std::string by;        // who
  std::string because;   // why; may be empty where the kind says it all
  std::string body;
};

struct BookQuery {
  std::optional<std::string> kind{};
  std::optional<std::string> subject{};
  std::optional<std::string> concerns{};
};

// The clock went back before it was written.
inline bool is_out_of_time(const BookEntry& entry) { return entry.utc < entry.placed; }

}  // namespace eyelevel::record
