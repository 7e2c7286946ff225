// SPDX-License-Identifier: Apache-2.0
// Corrections of a run: what was recorded stays, and beside it stands what holds now, who says so and why.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/metrology/reading.hpp"
#include "core/record/books/body.hpp"

namespace eyelevel::record {

// Subject: the run; concerns the serial that holds from then on, or the one that was recorded.
struct Corrected {
  std::string reading;          // its name; empty: of the run as a whole
  std::optional<double> value;  // in the unit of the reading
  bool counts = true;           // false: the reading is not to be used
  std::string serial;           // the unit's right serial
  std::string model;            // and model
};

template <>
struct Fields<Corrected> {
  static constexpr const char* name = "run corrected";
  static void walk(auto& io, auto& x) {
    io("reading", x.reading), io("value", x.value), io("counts", x.counts);
    io("serial", x.serial), io("model", x.model);
  }
};

struct Correction {
  std::int64_t number = 0;  // of the entry
  base::UtcTime utc{};
  std::string by;
  std::string because;
  Corrected said;
};

// In the order in which they hold. Entries of other kinds are passed over.
std::vector<Correction> corrections_of(std::span<const BookEntry> entries);

// The reading as it stands now, judged again with its own uncertainty and limit; nothing when it does not count. The
// newest correction of a reading holds, so that one that was struck out can be taken in again.
std::optional<metrology::Reading> standing(const metrology::Reading& recorded, std::span<const Correction> corrections);
bool is_corrected(const metrology::Reading& recorded, std::span<const Correction> corrections);

}  // namespace eyelevel::record
