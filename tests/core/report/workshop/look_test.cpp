// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/look.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/core/record/store_suite.hpp"

using namespace eyelevel;
using namespace eyelevel::report::workshop;
using metrology::Judgement;

namespace {

const base::UtcTime now = test::some_day() + std::chrono::days(300);

// Two units and a check unit, on two benches.
std::unique_ptr<record::Store> filled() {
  auto store = record::open_memory_store();
  test::write_sample_run(*store, {0, "LF2-1", "LF-2", "one", "anna", 1.2, Judgement::pass});
  test::write_sample_run(*store, {1, "LF2-2", "LF-2", "two", "ben", 1.6, Judgement::fail});
  test::write_sample_run(*store, {2, "LF2-CHECK", "LF-2", "two", "anna", 1.2, Judgement::pass});
  return store;
}

}  // namespace

TEST_CASE("look: without a wish it is the reading that is judged, of the last half year of runs", "[report]") {
  const auto store = filled();
  const Look seen = look(*store, {}, now);
  CHECK(seen.seen.reading == "level");
  CHECK(seen.seen.yields.all.judged() == 3);
  CHECK(seen.since ==
        std::chrono::floor<std::chrono::days>(test::some_day()) + std::chrono::days(2) - std::chrono::weeks(26));
  CHECK_FALSE(seen.is_cut);
}

TEST_CASE("look: runs of the check unit count in no yield", "[report]") {
  const auto store = filled();
  const Look seen = look(*store, {.check_unit = "LF2-CHECK"}, now);
  CHECK(seen.seen.yields.all.judged() == 2);
  CHECK(seen.seen.check_unit == "LF2-CHECK");
}

TEST_CASE("look: only of that bench, those days and that model", "[report]") {
  const auto store = filled();
  CHECK(look(*store, {.bench = "one"}, now).seen.yields.all.judged() == 1);
  CHECK(look(*store, {.model = "LF-5"}, now).seen.yields.all.judged() == 0);
  const Look days = look(*store, {.since = test::some_day(), .until = test::some_day() + std::chrono::days(1)}, now);
  CHECK(days.seen.yields.all.judged() == 1);
}

TEST_CASE("look: days the wrong way round and an unknown reading are refused, an empty store is not", "[report]") {
  const auto store = filled();
  CHECK_THROWS_AS(look(*store, {.since = now, .until = test::some_day()}, now), base::Error);
  CHECK_THROWS_WITH(look(*store, {.reading = "jitter"}, now), Catch::Contains("no reading jitter"));
  CHECK(look(*record::open_memory_store(), {}, now).seen.readings == 0);
}
