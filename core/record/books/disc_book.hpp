// SPDX-License-Identifier: Apache-2.0
// A test disc as the books know it: its level relative to the workshop's master disc, inspections, cleaning, expiry. By
// which mark a disc is recognised, and what it was made as, stands in the list of test discs (core/bench/test_discs):
// the name is the same.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/record/books/body.hpp"

namespace eyelevel::record {

// Subject: the disc's name. What is empty says nothing about what was known before.
struct DiscDescribed {
  std::string master;                      // name of the master disc; its own: it is the master
  std::optional<double> level;             // relative to the master disc's
  std::optional<double> level_half_width;  // of the 95 % interval
  std::string expires;                     // YYYY-MM-DD
};
struct DiscInspected {
  std::string found;
  bool good = true;
};
struct DiscCleaned {
  std::string how;
};

template <>
struct Fields<DiscDescribed> {
  static constexpr const char* name = "disc described";
  static void walk(auto& io, auto& x) {
    io("master", x.master), io("level", x.level), io("level_half_width", x.level_half_width);
    io("expires", x.expires);
  }
};
template <>
struct Fields<DiscInspected> {
  static constexpr const char* name = "disc inspected";
  static void walk(auto& io, auto& x) { io("found", x.found), io("good", x.good); }
};
template <>
struct Fields<DiscCleaned> {
  static constexpr const char* name = "disc cleaned";
  static void walk(auto& io, auto& x) { io("how", x.how); }
};

struct Inspection {
  base::UtcTime utc{};
  std::string by;
  std::string found;
  bool good = true;
};

struct DiscBook {
  std::string name;
  std::string master;
  std::optional<double> level;
  std::optional<double> level_half_width;
  std::string expires;
  std::optional<base::UtcTime> compared;  // when its level was told
  std::vector<Inspection> inspections;
  std::vector<base::UtcTime> cleaned;

  // Why it should not be used that day ("2030-01-07"), each a sentence; empty: nothing is known against it.
  std::vector<std::string> doubts(std::string_view day) const;
};

// In the order in which they were first met. Entries of other things are passed over. A level that was compared before
// the disc was cleaned still stands; doubts() says so.
std::vector<DiscBook> discs_of(std::span<const BookEntry> entries);

}  // namespace eyelevel::record
