// SPDX-License-Identifier: Apache-2.0
#include "core/record/books/unit_book.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>

#include "core/record/books/names.hpp"
#include "core/record/books/pickup_book.hpp"

namespace eyelevel::record {

namespace {

class UnitFold {
 public:
  void take(const BookEntry& entry) {
    if (is_a<TakenIn>(entry)) {
      take_in(entry, body_of<TakenIn>(entry));
    } else if (is_a<HandedBack>(entry)) {
      UnitBook& unit = of(entry.subject, body_of<HandedBack>(entry).model);
      if (unit.is_here()) {
        unit.visits.back().handed_back = entry.utc;
        unit.visits.back().told = entry.because;
      }
    } else if (is_a<PickupFitted>(entry)) {
      const auto fitted = body_of<PickupFitted>(entry);
      UnitBook& unit = of(entry.concerns, fitted.model);
      unit.pickup = {entry.subject, entry.utc, fitted.unit_h, fitted.pickup_h};
      if (fitted.unit_h) unit.unit_h = fitted.unit_h;
    } else if (is_a<PickupTakenOut>(entry)) {
      UnitBook& unit = of(entry.concerns, body_of<PickupTakenOut>(entry).model);
      if (unit.pickup && unit.pickup->name == entry.subject) unit.pickup.reset();
    }
  }

  std::vector<UnitBook> units;

 private:
  void take_in(const BookEntry& entry, const TakenIn& said) {
    UnitBook& unit = of(entry.subject, said.model);
    unit.visits.push_back({entry.utc, entry.by, said.complaint, said.unit_h, std::nullopt, {}});
    if (said.unit_h) unit.unit_h = said.unit_h;
  }

  UnitBook& of(const std::string& serial, const std::string& model) {
    const auto known = std::find_if(units.begin(), units.end(),
                                    [&](const UnitBook& u) { return u.serial == serial && u.model == model; });
    if (known != units.end()) return *known;
    UnitBook& unit = units.emplace_back();
    unit.serial = serial;
    unit.model = model;
    return unit;
  }
};

}  // namespace

std::optional<double> UnitBook::pickup_h() const {
  if (!pickup || !pickup->pickup_h || !pickup->unit_h || !unit_h || *unit_h < *pickup->unit_h) return std::nullopt;
  return *pickup->pickup_h + *unit_h - *pickup->unit_h;
}

std::vector<UnitBook> units_of(std::span<const BookEntry> entries) {
  UnitFold fold;
  for (const BookEntry& entry : entries) fold.take(entry);
  return std::move(fold.units);
}

std::vector<BookEntry> entries_about(Store& store, const std::string& name) {
  BookQuery of, concerning;
  of.subject = name;
  concerning.concerns = name;
  const auto before = [](const BookEntry& a, const BookEntry& b) {
    return a.placed != b.placed ? a.placed < b.placed : a.number < b.number;
  };
  const auto a = store.book(of), b = store.book(concerning);
  std::vector<BookEntry> all;
  std::set_union(a.begin(), a.end(), b.begin(), b.end(), std::back_inserter(all), before);
  return all;
}

std::optional<UnitBook> find_unit(Store& store, const std::string& serial, std::string_view model) {
  auto units = units_of(entries_about(store, serial));
  std::erase_if(units, [&](const UnitBook& u) { return u.serial != serial || (!model.empty() && u.model != model); });
  if (units.empty()) return std::nullopt;
  if (units.size() == 1) return std::move(units.front());
  std::string models;
  for (const UnitBook& unit : units) models += (models.empty() ? "" : ", ") + shown(unit.model);
  throw base::Error(base::ErrorCode::bad_input,
                    fmt::format("{} units have the serial {}: {}", units.size(), shown(serial), models),
                    "say which with --model");
}

}  // namespace eyelevel::record
