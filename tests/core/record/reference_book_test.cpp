// SPDX-License-Identifier: Apache-2.0
#include "core/record/books/reference_book.hpp"

#include <catch2/catch.hpp>

#include <limits>

#include "tests/core/record/store_suite.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

namespace {

BookEntry from(const std::string& source, double at_least, const std::string& disc = "",
               const std::string& expires = "") {
  ReferenceSet set;
  set.source = source;
  set.disc = disc;
  set.unit = "V";
  set.limit.at_least = at_least;
  set.expires = expires;
  return entry_of(set, "LF-2", "level_pressed", {test::some_day(), "anna"});
}

std::optional<double> holds(const std::vector<BookEntry>& entries, const std::string& disc = "pressed",
                            const std::string& day = "2030-01-07") {
  const auto references = references_of(entries);
  const auto* found = standing_reference(references, "LF-2", "level_pressed", disc, "pickup-level", day);
  return found == nullptr ? std::nullopt : found->said.limit.at_least;
}

}  // namespace

TEST_CASE("reference: service data win over units, whichever was said last", "[record]") {
  CHECK(holds({from("service data", 1.0), from("units", 2.0)}) == 1.0);
  CHECK(holds({from("units", 2.0), from("service data", 1.0)}) == 1.0);
  CHECK(holds({from("units", 2.0)}) == 2.0);
}

TEST_CASE("reference: the newest of one source holds, and an expired one does not", "[record]") {
  CHECK(holds({from("units", 2.0), from("units", 3.0)}) == 3.0);
  const std::vector<BookEntry> both{from("units", 2.0), from("service data", 1.0, "", "2031-01-31")};
  CHECK(holds(both, "pressed", "2031-01-31") == 1.0);
  CHECK(holds(both, "pressed", "2031-02-01") == 2.0);
}

TEST_CASE("reference: one of another disc, reading or model does not hold", "[record]") {
  CHECK(holds({from("units", 2.0, "recordable")}) == std::nullopt);
  CHECK(holds({from("units", 2.0, "pressed"), from("units", 3.0)}) == 2.0);
  CHECK(holds({from("units", 2.0, "pressed"), from("units", 3.0)}, "recordable") == 3.0);
  const auto references = references_of(std::vector{from("units", 2.0)});
  CHECK(standing_reference(references, "LF-5", "level_pressed", "", "", "2030-01-07") == nullptr);
  CHECK(standing_reference(references, "LF-2", "rise", "", "", "2030-01-07") == nullptr);
}

TEST_CASE("reference: one that was withdrawn holds no more, the others do", "[record]") {
  const auto gone =
      entry_of(ReferenceWithdrawn{"", "", "service data"}, "LF-2", "level_pressed", {{}, "anna", "misread"});
  CHECK(holds({from("service data", 1.0), from("units", 2.0), gone}) == 2.0);
  CHECK(holds({from("service data", 1.0), gone, from("service data", 1.5)}) == 1.5);
}

TEST_CASE("reference: what it says comes back whole", "[record]") {
  ReferenceSet set;
  set.unit = "V";
  set.limit = {1.0, 1.4};
  set.source = "units";
  set.units = {{"LF2-00001", 1.2, {"2030-01-07-1", "2030-01-08-1"}}, {"LF2-00002", 1.25, {"2030-01-07-2"}}};
  set.doubtful = {"LF2-00002"};
  set.mean = 1.225;
  const auto back =
      references_of(std::vector{entry_of(set, "LF-2", "level_pressed", {test::some_day(), "anna"})}).at(0);
  CHECK(back.said.units.at(0).runs.at(1) == "2030-01-08-1");
  CHECK(back.said.limit.at_most == 1.4);
  CHECK(back.said.mean == 1.225);
  CHECK_FALSE(back.said.sd);
  CHECK(back.by == "anna");
}

TEST_CASE("reference: one without a unit of measure or with crossing sides is refused", "[record]") {
  ReferenceSet set;
  set.limit = {1.0, 1.4};
  CHECK_THROWS_WITH(require_usable(set), Catch::Contains("without a unit of measure") && Catch::Contains("'1.08 V'"));
  set.unit = "V";
  CHECK_NOTHROW(require_usable(set));
  set.limit = {1.4, 1.0};
  CHECK_THROWS_AS(require_usable(set), base::Error);
  set.limit = {std::numeric_limits<double>::quiet_NaN(), std::nullopt};
  CHECK_THROWS_AS(require_usable(set), base::Error);
  set.limit = {};
  CHECK_THROWS_AS(require_usable(set), base::Error);
}

TEST_CASE("reference: limits contradict each other when no value meets both", "[record]") {
  CHECK(contradict({1.0, 1.2}, {1.3, 1.5}));
  CHECK(contradict({1.3, {}}, {{}, 1.2}));
  CHECK_FALSE(contradict({1.0, 1.2}, {1.2, 1.5}));
  CHECK_FALSE(contradict({1.0, {}}, {1.2, {}}));
}
