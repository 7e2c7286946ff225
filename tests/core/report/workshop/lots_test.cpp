// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/lots.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <chrono>

#include "core/report/workshop/sentences.hpp"

using namespace eyelevel;
using namespace eyelevel::report::workshop;
using metrology::Judgement;
using std::chrono::days;

namespace {

base::UtcTime day(int number) { return base::UtcTime{} + days(20000 + number); }

record::ReadingRow row(std::string serial, int begun, Judgement judgement) {
  record::ReadingRow row;
  row.serial = std::move(serial);
  row.model = "LF-2";
  row.begun = day(begun);
  row.judgement = judgement;
  return row;
}

record::PickupBook pickup(std::string lot, std::string serial, int fitted, std::optional<int> out = {}) {
  record::PickupBook book;
  book.part = "LF-P2";
  book.lot = std::move(lot);
  record::Stay stay;
  stay.serial = std::move(serial);
  stay.model = "LF-2";
  stay.fitted = day(fitted);
  if (out) stay.taken_out = day(*out);
  book.stays.push_back(stay);
  return book;
}

}  // namespace

TEST_CASE("lots: each unit counts once, with its newest judged reading", "[report]") {
  const std::vector<record::PickupBook> pickups{pickup("29-38", "A", 0), pickup("29-38", "B", 0),
                                                pickup("30-02", "C", 0)};
  const std::vector<record::ReadingRow> rows{row("A", 4, Judgement::fail), row("C", 3, Judgement::pass),
                                             row("A", 2, Judgement::pass), row("B", 1, Judgement::undecided)};
  const auto lots = yields_by_lot(rows, Lots(pickups));
  REQUIRE(lots.size() == 2);
  CHECK(lots[0].of == "LF-P2 lot 29-38");
  CHECK(lots[0].failed == 1);
  CHECK(lots[0].undecided == 1);
  CHECK(lots[0].passed == 0);
  CHECK(lots[1].of == "LF-P2 lot 30-02");
  CHECK(lots[1].passed == 1);
}

TEST_CASE("lots: what counts is the pickup that was inside then, and another model's unit is another", "[report]") {
  const std::vector<record::PickupBook> pickups{pickup("old", "A", 0, 5), pickup("new", "A", 5)};
  CHECK(yields_by_lot(std::vector{row("A", 4, Judgement::fail)}, Lots(pickups)).at(0).of == "LF-P2 lot old");
  CHECK(yields_by_lot(std::vector{row("A", 6, Judgement::fail)}, Lots(pickups)).at(0).of == "LF-P2 lot new");
  auto other = row("A", 6, Judgement::fail);
  other.model = "LF-5";
  CHECK(yields_by_lot(std::vector{other}, Lots(pickups)).empty());
}

TEST_CASE("lots: of two that read otherwise, the one with fewer units is named", "[report]") {
  std::vector<record::PickupBook> pickups;
  std::vector<record::ReadingRow> rows;
  for (int i = 0; i < 24; ++i) {
    const std::string serial = "LF2-" + std::to_string(i);
    const bool is_worn = i % 4 == 1;
    pickups.push_back(pickup(is_worn ? "29-38" : "30-04", serial, 0));
    auto one = row(serial, i + 1, Judgement::pass);
    one.name = "level_pressed";
    one.unit = "V";
    one.bench = "bench 1";
    one.value = (is_worn ? 0.7 : 1.2) + 0.02 * (i % 5);
    rows.insert(rows.begin(), one);
  }
  const auto workshop = workshop_of({}, rows, {"level_pressed", "", {}}, pickups);
  REQUIRE(workshop.lots);
  REQUIRE_FALSE(workshop.lots->off.empty());
  const auto told = sentences(workshop);
  CHECK(std::any_of(told.begin(), told.end(), [](const std::string& s) {
    return s.starts_with("Units with a pickup of LF-P2 lot 29-38 read ") && s.find("lower") != std::string::npos;
  }));
}

TEST_CASE("lots: nothing is told where the books know no lot, or nothing was judged", "[report]") {
  CHECK(yields_by_lot(std::vector{row("A", 4, Judgement::fail)}, Lots({})).empty());
  const std::vector<record::PickupBook> unnamed{pickup("", "A", 0)}, named{pickup("x", "A", 0)};
  CHECK(yields_by_lot(std::vector{row("A", 4, Judgement::fail)}, Lots(unnamed)).empty());
  auto unjudged = row("A", 4, Judgement::fail);
  unjudged.judgement.reset();
  CHECK(yields_by_lot(std::vector{unjudged}, Lots(named)).empty());
}
