// SPDX-License-Identifier: Apache-2.0
#include "core/record/store/run_names.hpp"

#include <catch2/catch.hpp>

#include "tests/core/record/sample_run.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

TEST_CASE("run names: the day and a number, to be read over the bench", "[record]") {
  using namespace std::chrono;
  const base::UtcTime t = sys_days(year(2030) / January / 7) + 23h + 59min;
  CHECK(run_name(day_of(t), 3) == "2030-01-07-3");
  CHECK(day_of(t + 1min) == "2030-01-08");
}

// Levenshtein's distance; the pairs are the usual textbook ones.
TEST_CASE("run names: distance counts edits", "[record]") {
  CHECK(distance("", "") == 0);
  CHECK(distance("", "abc") == 3);
  CHECK(distance("kitten", "sitting") == 3);
  CHECK(distance("2030-01-07-3", "2030-01-07-13") == 1);
}

TEST_CASE("run names: an unknown run is refused with the nearest known one", "[record]") {
  RunSummary near, far;
  near.id = "2030-01-07-12";
  near.serial = "LF2-00417";
  near.sequence = "pickup-level";
  far.id = "2029-12-24-1";
  CHECK_THROWS_WITH(throw_unknown_run("2030-01-7-12", "bench.store", {far, near}),
                    Catch::Contains("there is no run \"2030-01-7-12\"") &&
                        Catch::Contains("nearest is 2030-01-07-12 (LF2-00417, pickup-level)"));
  CHECK_THROWS_WITH(throw_unknown_run("x", "bench.store", {}), Catch::Contains("holds no run yet"));
}

TEST_CASE("run names: a summary follows the events, and an unclosed run has no end", "[record]") {
  RunSummary s;
  const auto events = test::sample_events("2030-01-07-1");
  for (const auto& e : events) {
    CHECK(s.ended.empty());
    take_into(s, e);
  }
  CHECK(s.serial == "LF2-00417");
  CHECK(s.model == "LF-2");
  CHECK(s.begun == events.front().utc);
  CHECK(s.closed == events.back().utc);
  CHECK(s.ended == "stopped");
  CHECK_FALSE(s.judgement);
  CHECK_THAT(s.program, Catch::StartsWith("eyelevel "));
}
