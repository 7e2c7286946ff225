// SPDX-License-Identifier: Apache-2.0
#include "core/record/books/corrections.hpp"

#include <catch2/catch.hpp>

#include "core/record/run_record.hpp"
#include "tests/core/record/store_suite.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

namespace {

Said said(int hour) { return {test::some_day() + std::chrono::hours(hour), "anna", "misread"}; }

std::vector<Correction> corrected(const std::vector<Corrected>& all) {
  std::vector<BookEntry> entries;
  for (const Corrected& one : all) entries.push_back(entry_of(one, "2030-01-07-1", "", said(9)));
  return corrections_of(entries);
}

}  // namespace

TEST_CASE("corrections: a value is judged again with its own uncertainty and limit", "[record]") {
  const auto recorded = test::sample_reading();  // 1.2035 V ± 0.0206 V, 1.08 V to 1.32 V, pass
  CHECK(standing(recorded, {})->judgement == metrology::Judgement::pass);
  const auto wrong = standing(recorded, corrected({{"level_pressed", 1.40, true, "", ""}}));
  REQUIRE(wrong);
  CHECK(wrong->value == 1.40);
  CHECK(wrong->interval.expanded_uncertainty == recorded.interval.expanded_uncertainty);
  CHECK(wrong->judgement == metrology::Judgement::fail);
  CHECK(standing(recorded, corrected({{"level_pressed", 1.31, true, "", ""}}))->judgement ==
        metrology::Judgement::undecided);
  CHECK(standing(recorded, corrected({{"another", 1.40, true, "", ""}}))->value == recorded.value);
}

TEST_CASE("corrections: a reading that does not count is gone, until it is taken in again", "[record]") {
  const auto recorded = test::sample_reading();
  CHECK_FALSE(standing(recorded, corrected({{"level_pressed", {}, false, "", ""}})));
  CHECK(standing(recorded, corrected({{"level_pressed", {}, false, "", ""}, {"level_pressed", {}, true, "", ""}})));
}

TEST_CASE("corrections: stand beside what was recorded when a run is read", "[record]") {
  const auto store = open_memory_store();
  const auto run = store->reserve_run(test::some_day());
  store->write(run, test::sample_events(run));
  const auto entry = entry_of(Corrected{"level_pressed", 1.40, true, "", ""}, run, "LF2-00417", said(9));
  store->note(std::span(&entry, 1));
  const auto back = read_run(*store, run);
  REQUIRE(back.corrections.size() == 1);
  CHECK(back.corrections[0].by == "anna");
  CHECK(back.corrections[0].because == "misread");
  CHECK(back.readings.at(0).value == test::sample_reading().value);
  CHECK(standing_readings(back).at(0).value == 1.40);
}
