// SPDX-License-Identifier: Apache-2.0
// What good units of a model read: limits for a reading, of a disc kind and a setting, from known good units or from
// the maker's service data, which win. Where they come from stays with them.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/metrology/reading.hpp"
#include "core/record/books/body.hpp"

namespace eyelevel::record {

struct ReferenceUnit {
  std::string serial;
  double value = 0;               // mean of its readings
  std::vector<std::string> runs;  // that they are from
};

// Subject: the model; concerns the reading's name.
struct ReferenceSet {
  std::string disc;     // "pressed"; empty: whatever disc
  std::string setting;  // the sequence, or what the workshop calls it; empty: whatever setting
  std::string unit;     // of the limit: "V", "1" for ratios
  metrology::Limit limit;
  std::string source;      // "units" or "service data"
  std::string stands_in;   // service data: document and place
  std::string read_as;     // service data: "settled levels" or "outer edges", as it was meant to be read; may be empty
  std::string provenance;  // of the units: "factory-set", "serviced"; may be empty
  std::string expires;     // YYYY-MM-DD, the last day; empty: never
  std::vector<ReferenceUnit> units = {};
  std::vector<std::string> doubtful = {};  // serials of units that do not fit among the others; they are in the limit
  std::optional<double> mean, sd, factor;  // of the units; limit = mean +- factor sd
  std::optional<double> share, confidence;
};
// The one that was said for this disc and setting, of this source, holds no more.
struct ReferenceWithdrawn {
  std::string disc;
  std::string setting;
  std::string source;
};

template <>
struct Fields<ReferenceUnit> {
  static void walk(auto& io, auto& x) { io("serial", x.serial), io("value", x.value), io("runs", x.runs); }
};
template <>
struct Fields<ReferenceSet> {
  static constexpr const char* name = "reference set";
  static void walk(auto& io, auto& x) {
    io("disc", x.disc), io("setting", x.setting), io("unit", x.unit), io("limit", x.limit), io("source", x.source);
    io("stands_in", x.stands_in), io("read_as", x.read_as), io("provenance", x.provenance), io("expires", x.expires);
    io("units", x.units), io("doubtful", x.doubtful), io("mean", x.mean), io("sd", x.sd), io("factor", x.factor);
    io("share", x.share), io("confidence", x.confidence);
  }
};
template <>
struct Fields<ReferenceWithdrawn> {
  static constexpr const char* name = "reference withdrawn";
  static void walk(auto& io, auto& x) { io("disc", x.disc), io("setting", x.setting), io("source", x.source); }
};

struct Reference {
  std::string model;
  std::string reading;
  base::UtcTime set{};
  std::string by;
  std::string because;
  ReferenceSet said;

  bool is_expired(std::string_view day) const { return !said.expires.empty() && day > said.expires; }
};

// Those that were not withdrawn, the newest of each model, reading, disc, setting and source. Entries of other kinds
// are passed over.
std::vector<Reference> references_of(std::span<const BookEntry> entries);

// Which of them holds on that day ("2030-01-07"): service data before units, then the one that names disc and setting
// before one that leaves them open, then the newest. Null: none.
const Reference* standing_reference(std::span<const Reference> references, std::string_view model,
                                    std::string_view reading, std::string_view disc, std::string_view setting,
                                    std::string_view day);

// Throws Error(bad_input): no unit of measure, no side, sides that cross, a number that is none.
void require_usable(const ReferenceSet& set);

// No value could meet both.
bool contradict(const metrology::Limit& a, const metrology::Limit& b);

}  // namespace eyelevel::record
