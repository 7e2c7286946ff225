// SPDX-License-Identifier: Apache-2.0
#include "core/record/books/unit_book.hpp"

#include <catch2/catch.hpp>

#include "core/record/books/pickup_book.hpp"
#include "tests/core/record/store_suite.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

namespace {

Said said(int day, const std::string& because = "") {
  return {test::some_day() + std::chrono::days(day), "anna", because};
}

void note(Store& store, const BookEntry& entry) { store.note(std::span(&entry, 1)); }

}  // namespace

TEST_CASE("unit book: a visit begins when a unit is taken in and ends when it is handed back", "[record]") {
  const auto store = open_memory_store();
  note(*store, entry_of(TakenIn{"LF-2", "skips", 1200}, "LF2-00417", "", said(0)));
  note(*store, entry_of(HandedBack{"LF-2"}, "LF2-00417", "", said(2, "plays all")));
  note(*store, entry_of(TakenIn{"LF-2", "does not start", std::nullopt}, "LF2-00417", "", said(400)));
  const auto unit = find_unit(*store, "LF2-00417", "");
  REQUIRE(unit);
  REQUIRE(unit->visits.size() == 2);
  CHECK(unit->visits[0].handed_back == said(2).utc);
  CHECK(unit->visits[0].told == "plays all");
  CHECK(unit->is_here());
  CHECK(unit->unit_h == 1200);
  CHECK_FALSE(find_unit(*store, "LF2-00418", ""));
}

TEST_CASE("unit book: two units of one serial are told apart by their model", "[record]") {
  const auto store = open_memory_store();
  note(*store, entry_of(TakenIn{"LF-2", "skips", {}}, "00417", "", said(0)));
  note(*store, entry_of(TakenIn{"LF-5", "hums", {}}, "00417", "", said(1)));
  note(*store, entry_of(HandedBack{"LF-5"}, "00417", "", said(2)));
  CHECK_THROWS_WITH(find_unit(*store, "00417", ""),
                    Catch::Contains("2 units have the serial 00417: LF-2, LF-5") && Catch::Contains("--model"));
  CHECK(find_unit(*store, "00417", "LF-2")->is_here());
  CHECK_FALSE(find_unit(*store, "00417", "LF-5")->is_here());
}

TEST_CASE("unit book: a pickup counts its own hours from when it was fitted", "[record]") {
  const auto store = open_memory_store();
  note(*store, entry_of(TakenIn{"LF-2", "skips", 1000}, "LF2-00417", "", said(0)));
  note(*store, entry_of(PickupFitted{"LF-2", 1000, 0}, "PU-31", "LF2-00417", said(1)));
  CHECK(find_unit(*store, "LF2-00417", "")->pickup_h() == 0);
  note(*store, entry_of(TakenIn{"LF-2", "skips again", 1250}, "LF2-00417", "", said(300)));
  CHECK(find_unit(*store, "LF2-00417", "")->pickup->name == "PU-31");
  CHECK(find_unit(*store, "LF2-00417", "")->pickup_h() == 250);
  note(*store, entry_of(TakenIn{"LF-2", "its meter was replaced", 3}, "LF2-00417", "", said(301)));
  CHECK_FALSE(find_unit(*store, "LF2-00417", "")->pickup_h());
  note(*store, entry_of(PickupTakenOut{"LF-2", {}}, "PU-31", "LF2-00417", said(302)));
  CHECK_FALSE(find_unit(*store, "LF2-00417", "")->pickup);
}

TEST_CASE("unit book: a clock that went back changes the order of nothing", "[record]") {
  const auto store = open_memory_store();
  note(*store, entry_of(TakenIn{"LF-2", "skips", 1000}, "LF2-00417", "", said(0)));
  note(*store, entry_of(HandedBack{"LF-2"}, "LF2-00417", "", said(-3000)));
  const auto unit = find_unit(*store, "LF2-00417", "");
  REQUIRE(unit->visits.size() == 1);
  CHECK_FALSE(unit->is_here());
}
