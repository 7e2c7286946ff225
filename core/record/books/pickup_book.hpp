// SPDX-License-Identifier: Apache-2.0
// A pickup as the books know it: what it is, and in which units it has been; it moves between units, and models share
// pickups.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/record/books/body.hpp"

namespace eyelevel::record {

// Subject: the name that the workshop gives it. What is empty says nothing about what was known before.
struct PickupDescribed {
  std::string part;       // the maker's part number
  std::string connector;  // "11-pin"
  std::optional<double> label_current_a{};
  std::string lot{};  // the maker's lot or date code
};
// Subject: the pickup; concerns the serial.
struct PickupFitted {
  std::string model;
  std::optional<double> unit_h;    // of the unit
  std::optional<double> pickup_h;  // of the pickup; a new one has 0
};
struct PickupTakenOut {
  std::string model;
  std::optional<double> unit_h;
};

template <>
struct Fields<PickupDescribed> {
  static constexpr const char* name = "pickup described";
  static void walk(auto& io, auto& x) {
    io("part", x.part), io("connector", x.connector), io("label_current_a", x.label_current_a), io("lot", x.lot);
  }
};
template <>
struct Fields<PickupFitted> {
  static constexpr const char* name = "pickup fitted";
  static void walk(auto& io, auto& x) { io("model", x.model), io("unit_h", x.unit_h), io("pickup_h", x.pickup_h); }
};
template <>
struct Fields<PickupTakenOut> {
  static constexpr const char* name = "pickup taken out";
  static void walk(auto& io, auto& x) { io("model", x.model), io("unit_h", x.unit_h); }
};

struct Stay {
  std::string serial;
  std::string model;
  base::UtcTime fitted{};
  std::optional<double> unit_h;
  std::optional<double> pickup_h;
  std::optional<base::UtcTime> taken_out;
  std::optional<double> unit_h_out;
};

struct PickupBook {
  std::string name;
  std::string part;
  std::string connector;
  std::optional<double> label_current_a;
  std::string lot;
  std::vector<Stay> stays;

  const Stay* inside() const { return stays.empty() || stays.back().taken_out ? nullptr : &stays.back(); }
  // After its last stay that is over; nothing where it is not known, or the unit's hours went back.
  std::optional<double> hours_when_taken_out() const;
};

// In the order in which they were first met. Entries of other things are passed over.
std::vector<PickupBook> pickups_of(std::span<const BookEntry> entries);

// What has to be known by whoever fits this pickup, each a sentence; a new one has 0 hours.
std::vector<std::string> fitting_cautions(const PickupFitted& fitted);

}  // namespace eyelevel::record
