// SPDX-License-Identifier: Apache-2.0
// A unit as the books know it: its visits, and the pickup that is in it. Two units of one serial are told apart by
// their model.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/record/books/body.hpp"
#include "core/record/store/store.hpp"

namespace eyelevel::record {

// Subject: the serial. Hours of use as the unit or its owner tells them.
struct TakenIn {
  std::string model;
  std::string complaint;
  std::optional<double> unit_h;
};
// Subject: the serial.
struct HandedBack {
  std::string model;
};

template <>
struct Fields<TakenIn> {
  static constexpr const char* name = "unit taken in";
  static void walk(auto& io, auto& x) { io("model", x.model), io("complaint", x.complaint), io("unit_h", x.unit_h); }
};
template <>
struct Fields<HandedBack> {
  static constexpr const char* name = "unit handed back";
  static void walk(auto& io, auto& x) { io("model", x.model); }
};

struct Visit {
  base::UtcTime taken_in{};
  std::string by;
  std::string complaint;
  std::optional<double> unit_h;
  std::optional<base::UtcTime> handed_back;
  std::string told;  // what was said when it was handed back
};

struct PickupInside {
  std::string name;
  base::UtcTime since{};
  std::optional<double> unit_h;    // of the unit when it was fitted
  std::optional<double> pickup_h;  // of the pickup then; a new one has 0
};

struct UnitBook {
  std::string serial;
  std::string model;
  std::vector<Visit> visits;
  std::optional<PickupInside> pickup;
  std::optional<double> unit_h;  // the newest that was told

  bool is_here() const { return !visits.empty() && !visits.back().handed_back; }
  // Of the pickup inside, counted from the unit's; nothing where either is not known, or the unit's went back.
  std::optional<double> pickup_h() const;
};

// In the order in which they were first met. Entries of other things are passed over.
std::vector<UnitBook> units_of(std::span<const BookEntry> entries);

// All entries that have `name` as what they are about or what they concern, in the order in which they hold.
std::vector<BookEntry> entries_about(Store& store, const std::string& name);

// The unit of this serial; `model` may be empty where there is only one. Nothing: the books do not know it. Throws
// Error(bad_input) when several have the serial and no model says which.
std::optional<UnitBook> find_unit(Store& store, const std::string& serial, std::string_view model);

}  // namespace eyelevel::record
