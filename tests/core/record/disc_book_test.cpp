// SPDX-License-Identifier: Apache-2.0
#include "core/record/books/disc_book.hpp"

#include <catch2/catch.hpp>

#include "tests/core/record/store_suite.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

namespace {

Said said(int day) { return {test::some_day() + std::chrono::days(day), "anna"}; }

std::vector<BookEntry> placed(std::vector<BookEntry> entries) {
  const auto store = open_memory_store();
  return store->note(entries);
}

}  // namespace

TEST_CASE("disc book: level, inspection, cleaning and expiry of one disc", "[record]") {
  const auto entries =
      placed({entry_of(DiscDescribed{"TD-1", 0.98, 0.02, "2031-01-31"}, "TD-2", "", said(0)),
              entry_of(DiscInspected{"no scratch", true}, "TD-2", "", said(1)), test::sample_entry(9)});
  const auto list = discs_of(entries);
  REQUIRE(list.size() == 1);
  CHECK(list[0].level == 0.98);
  CHECK(list[0].level_half_width == 0.02);
  CHECK(list[0].doubts("2031-01-31").empty());
  CHECK(list[0].doubts("2031-02-01") == std::vector<std::string>{"it expired on 2031-01-31"});
}

TEST_CASE("disc book: what is said later holds, what is left out stays as it was", "[record]") {
  const auto disc = discs_of(placed({entry_of(DiscDescribed{"TD-1", 0.98, 0.02, "2031-01-31"}, "TD-2", "", said(0)),
                                     entry_of(DiscDescribed{"", {}, {}, "2032-01-31"}, "TD-2", "", said(1))}))
                        .at(0);
  CHECK(disc.expires == "2032-01-31");
  CHECK(disc.master == "TD-1");
  CHECK(disc.level == 0.98);
}

TEST_CASE("disc book: what speaks against a disc is said", "[record]") {
  const auto fresh = discs_of(placed({entry_of(DiscCleaned{"water"}, "TD-2", "", said(0))})).at(0);
  CHECK(fresh.doubts("2030-01-07") ==
        std::vector<std::string>{"it was never inspected", "its level relative to the master disc is not known"});
  const auto bad = discs_of(placed({entry_of(DiscDescribed{"TD-2", {}, {}, ""}, "TD-2", "", said(0)),
                                    entry_of(DiscInspected{"no scratch", true}, "TD-2", "", said(1)),
                                    entry_of(DiscInspected{"cracked at the hub", false}, "TD-2", "", said(2))}))
                       .at(0);
  CHECK(bad.doubts("2030-01-07") == std::vector<std::string>{"the last inspection found: cracked at the hub"});
  const auto cleaned = discs_of(placed({entry_of(DiscDescribed{"TD-1", 0.98, 0.02, ""}, "TD-2", "", said(0)),
                                        entry_of(DiscInspected{"dust", true}, "TD-2", "", said(1)),
                                        entry_of(DiscCleaned{"water"}, "TD-2", "", said(2))}))
                           .at(0);
  CHECK(cleaned.doubts("2030-02-01") ==
        std::vector<std::string>{"it was cleaned since its level was compared with the master disc's"});
}
