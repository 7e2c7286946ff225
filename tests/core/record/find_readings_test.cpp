// SPDX-License-Identifier: Apache-2.0
#include "core/record/find_readings.hpp"

#include <catch2/catch.hpp>

#include "core/record/books/corrections.hpp"
#include "tests/core/record/store_suite.hpp"

using namespace eyelevel;
using namespace eyelevel::record;
using metrology::Judgement;

namespace {

struct Kept {
  std::unique_ptr<Store> store = open_memory_store();
  std::string first = test::write_sample_run(*store, {0, "LF2-1", "LF-2", "one", "anna", 1.2, Judgement::pass});
  std::string second = test::write_sample_run(*store, {1, "LF2-2", "LF-2", "one", "anna", 1.3, Judgement::pass});

  void correct(const std::string& run, const Corrected& said) const {
    const std::vector<BookEntry> entry{entry_of(said, run, said.serial, {test::some_day(), "anna", "mistyped"})};
    store->note(entry);
  }
  std::size_t count(const ReadingQuery& query) const { return find_readings(*store, query).size(); }
};

}  // namespace

TEST_CASE("find readings: what nobody corrected is what the store has", "[record]") {
  const Kept kept;
  CHECK(kept.count({}) == 4);
  CHECK(find_readings(*kept.store, {}).front().run == kept.second);
  CHECK(kept.count({.at_most = 3}) == 3);
}

TEST_CASE("find readings: one that was struck out is left out, and taken in again when that is said", "[record]") {
  const Kept kept;
  Corrected out;
  out.reading = "level";
  out.counts = false;
  kept.correct(kept.first, out);
  CHECK(kept.count({}) == 2);
  CHECK(kept.count({.name = "level", .at_most = 2}) == 2);
  out.counts = true;
  kept.correct(kept.first, out);
  CHECK(kept.count({}) == 4);
}

TEST_CASE("find readings: a corrected value is judged again by its own uncertainty and limit", "[record]") {
  const Kept kept;
  Corrected said;
  said.reading = "level";
  said.value = 1.9;
  kept.correct(kept.second, said);
  const auto rows = find_readings(*kept.store, {.name = "level"});
  REQUIRE(rows.size() == 4);
  CHECK(rows[0].value == 1.9);
  CHECK(rows[0].judgement == Judgement::fail);  // the limit was 1.0 V to 1.5 V
  CHECK(rows[2].value == 1.2);
}

TEST_CASE("find readings: a run of a mistyped serial is found under the right one only", "[record]") {
  const Kept kept;
  Corrected said;
  said.serial = "LF2-9";
  said.model = "LF-5";
  kept.correct(kept.first, said);
  CHECK(kept.count({.serial = "LF2-1"}) == 0);
  CHECK(kept.count({.serial = "LF2-9"}) == 2);
  CHECK(kept.count({.model = "LF-2"}) == 2);
  const auto all = find_readings(*kept.store, {.at_most = 3});
  REQUIRE(all.size() == 3);
  CHECK(all[0].run == kept.second);
  CHECK(all[2].serial == "LF2-9");
}

TEST_CASE("find readings: runs are counted under their right model", "[record]") {
  const Kept kept;
  Corrected said;
  said.model = "LF-5";
  kept.correct(kept.first, said);
  kept.correct("2029-01-01-1", said);  // of a run that is in another store
  const auto tallies = find_tallies(*kept.store, {});
  REQUIRE(tallies.size() == 2);
  CHECK(tallies[0].model == "LF-5");
  CHECK(tallies[0].runs == 1);
  CHECK(tallies[1].model == "LF-2");
  CHECK(find_tallies(*kept.store, {.since_day = "2030-01-08"}).size() == 1);
}
