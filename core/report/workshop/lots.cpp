// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/lots.hpp"

#include <fmt/format.h>

#include <set>

namespace eyelevel::report::workshop {

namespace {

void count(Yield& yield, metrology::Judgement judgement) {
  using enum metrology::Judgement;
  ++(judgement == pass ? yield.passed : judgement == fail ? yield.failed : yield.undecided);
}

}  // namespace

Lots::Lots(std::span<const record::PickupBook> pickups) {
  for (const record::PickupBook& pickup : pickups) {
    if (pickup.lot.empty()) continue;
    for (const record::Stay& stay : pickup.stays) stays_.insert({{stay.serial, stay.model}, {&pickup, &stay}});
  }
}

std::string Lots::at(const Unit& unit, base::UtcTime when) const {
  const auto [from, to] = stays_.equal_range(unit);
  for (auto at = from; at != to; ++at) {
    const auto& [pickup, stay] = at->second;
    if (when < stay->fitted || (stay->taken_out && when >= *stay->taken_out)) continue;
    return pickup->part.empty() ? "lot " + pickup->lot : fmt::format("{} lot {}", pickup->part, pickup->lot);
  }
  return {};
}

std::vector<Yield> yields_by_lot(std::span<const record::ReadingRow> rows, const Lots& lots) {
  std::map<std::string, Yield> yields;
  std::set<Lots::Unit> seen;
  for (const record::ReadingRow& row : rows) {
    const Lots::Unit unit{row.serial, row.model};
    if (!row.judgement || row.serial.empty() || !seen.insert(unit).second) continue;
    const std::string lot = lots.at(unit, row.begun);
    yields[lot].of = lot;
    count(yields[lot], *row.judgement);
  }
  if (yields.size() == 1 && yields.begin()->first.empty()) return {};
  std::vector<Yield> list;
  for (auto& [lot, yield] : yields) list.push_back(std::move(yield));
  return list;
}

}  // namespace eyelevel::report::workshop
