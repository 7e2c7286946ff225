// SPDX-License-Identifier: Apache-2.0
#include "core/record/books/pickup_book.hpp"

#include <algorithm>

namespace eyelevel::record {

namespace {

void describe(PickupBook& pickup, const PickupDescribed& said) {
  if (!said.part.empty()) pickup.part = said.part;
  if (!said.connector.empty()) pickup.connector = said.connector;
  if (!said.lot.empty()) pickup.lot = said.lot;
  if (said.label_current_a) pickup.label_current_a = said.label_current_a;
}

void fit(PickupBook& pickup, const BookEntry& entry, const PickupFitted& said) {
  Stay stay;
  stay.serial = entry.concerns;
  stay.model = said.model;
  stay.fitted = entry.utc;
  stay.unit_h = said.unit_h;
  stay.pickup_h = said.pickup_h;
  pickup.stays.push_back(std::move(stay));
}

}  // namespace

std::optional<double> PickupBook::hours_when_taken_out() const {
  if (stays.empty()) return std::nullopt;
  const Stay& last = stays.back();
  if (!last.taken_out || !last.pickup_h || !last.unit_h || !last.unit_h_out || *last.unit_h_out < *last.unit_h)
    return std::nullopt;
  return *last.pickup_h + *last.unit_h_out - *last.unit_h;
}

std::vector<PickupBook> pickups_of(std::span<const BookEntry> entries) {
  std::vector<PickupBook> list;
  const auto of = [&](const std::string& name) -> PickupBook& {
    const auto known = std::find_if(list.begin(), list.end(), [&](const PickupBook& p) { return p.name == name; });
    if (known != list.end()) return *known;
    list.emplace_back().name = name;
    return list.back();
  };
  for (const BookEntry& entry : entries) {
    if (is_a<PickupDescribed>(entry)) describe(of(entry.subject), body_of<PickupDescribed>(entry));
    if (is_a<PickupFitted>(entry)) fit(of(entry.subject), entry, body_of<PickupFitted>(entry));
    if (!is_a<PickupTakenOut>(entry)) continue;
    PickupBook& pickup = of(entry.subject);
    if (pickup.inside() == nullptr) continue;
    pickup.stays.back().taken_out = entry.utc;
    pickup.stays.back().unit_h_out = body_of<PickupTakenOut>(entry).unit_h;
  }
  return list;
}

// Common practice, not a standard: a maker sets the laser of a new pickup and protects it with a short.
std::vector<std::string> fitting_cautions(const PickupFitted& fitted) {
  std::vector<std::string> list;
  if (fitted.pickup_h && *fitted.pickup_h == 0)
    list.emplace_back("a new pickup is verified, not turned: its maker has set the laser");
  list.emplace_back("the anti-static short is removed last, when the pickup is connected and the cable is in");
  return list;
}

}  // namespace eyelevel::record
