// SPDX-License-Identifier: Apache-2.0
#include "core/record/books/pickup_book.hpp"

#include <catch2/catch.hpp>

#include "tests/core/record/store_suite.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

namespace {

Said said(int day) { return {test::some_day() + std::chrono::days(day), "anna"}; }

}  // namespace

TEST_CASE("pickup book: what is said later holds, what is left out stays as it was", "[record]") {
  const std::vector<BookEntry> entries{entry_of(PickupDescribed{"P-20", "11-pin", 0.0483}, "PU-31", "", said(0)),
                                       entry_of(PickupDescribed{"", "4-pin", {}}, "PU-31", "", said(1)),
                                       test::sample_entry(0)};
  const auto list = pickups_of(entries);
  REQUIRE(list.size() == 1);
  CHECK(list[0].part == "P-20");
  CHECK(list[0].connector == "4-pin");
  CHECK(list[0].label_current_a == 0.0483);
  CHECK(list[0].inside() == nullptr);
}

TEST_CASE("pickup book: it moves between units and models, with its hours", "[record]") {
  const std::vector<BookEntry> entries{
      entry_of(PickupFitted{"LF-2", 1000, 0}, "PU-31", "LF2-00417", said(0)),
      entry_of(PickupTakenOut{"LF-2", 1400}, "PU-31", "LF2-00417", said(200)),
      entry_of(PickupFitted{"LF-5", 90, 400}, "PU-31", "LF5-00002", said(201)),
  };
  const auto first = pickups_of(std::span(entries).first(2)).at(0);
  CHECK(first.inside() == nullptr);
  CHECK(first.hours_when_taken_out() == 400);
  const auto pickup = pickups_of(entries).at(0);
  REQUIRE(pickup.inside() != nullptr);
  CHECK(pickup.inside()->serial == "LF5-00002");
  CHECK(pickup.inside()->model == "LF-5");
  REQUIRE(pickup.stays.size() == 2);
  CHECK(pickup.stays[0].taken_out == said(200).utc);
}

TEST_CASE("pickup book: hours that nobody told are not known", "[record]") {
  std::vector<BookEntry> entries{entry_of(PickupFitted{"LF-2", {}, 0}, "PU-31", "LF2-00417", said(0)),
                                 entry_of(PickupTakenOut{"LF-2", 1400}, "PU-31", "LF2-00417", said(200))};
  CHECK_FALSE(pickups_of(entries).at(0).hours_when_taken_out());
  entries = {entry_of(PickupFitted{"LF-2", 1500, 0}, "PU-31", "LF2-00417", said(0)),
             entry_of(PickupTakenOut{"LF-2", 1400}, "PU-31", "LF2-00417", said(200))};
  CHECK_FALSE(pickups_of(entries).at(0).hours_when_taken_out());
}

TEST_CASE("pickup book: a new pickup is verified, not turned; the short is removed last", "[record]") {
  const auto fresh = fitting_cautions({"LF-2", 1000, 0});
  REQUIRE(fresh.size() == 2);
  CHECK_THAT(fresh[0], Catch::Contains("verified, not turned"));
  CHECK_THAT(fresh[1], Catch::Contains("anti-static short is removed last"));
  CHECK(fitting_cautions({"LF-2", 1000, 400}).size() == 1);
  CHECK(fitting_cautions({"LF-2", 1000, {}}).size() == 1);
}
