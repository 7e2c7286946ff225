// SPDX-License-Identifier: Apache-2.0
// Of which lot the pickup of a unit is: a maker's bad batch shows in no bench, person or week.
#pragma once

#include <map>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "core/record/books/pickup_book.hpp"
#include "core/report/workshop/yield.hpp"

namespace eyelevel::report::workshop {

class Lots {
 public:
  using Unit = std::pair<std::string, std::string>;  // serial and model

  // `pickups` must outlive it.
  explicit Lots(std::span<const record::PickupBook> pickups);

  // Part and lot of the pickup that was inside then, "LF-P2 lot 29-38"; empty where the books do not know.
  std::string at(const Unit& unit, base::UtcTime when) const;

 private:
  struct Inside {
    const record::PickupBook* pickup;
    const record::Stay* stay;
  };
  std::multimap<Unit, Inside> stays_;
};

// How many units of each lot pass, in the order of the lots' names; each unit counts once, with the newest of its
// readings that was judged. Units of whose lot nothing is known are together under "". Empty where the books know no
// lot of any. `rows` newest first.
std::vector<Yield> yields_by_lot(std::span<const record::ReadingRow> rows, const Lots& lots);

}  // namespace eyelevel::report::workshop
