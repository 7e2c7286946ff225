// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include "tests/core/record/store_suite.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

TEST_CASE("memory store: keeps runs as every store must", "[record]") {
  const auto store = open_store(":memory:");
  CHECK(store->works_inline());
  CHECK(store->name() == "memory");
  test::store_keeps_runs(*store);
}

TEST_CASE("memory store: finds runs by model, operator, judgement and day", "[record]") {
  test::store_finds_runs(*open_memory_store());
}

TEST_CASE("memory store: keeps books in the order in which they hold", "[record]") {
  test::store_keeps_books(*open_memory_store());
}

TEST_CASE("memory store: keeps readings beside their runs and counts these", "[record]") {
  test::store_keeps_readings(*open_memory_store());
}

TEST_CASE("memory store: readings that are not finite, and proofs of a bench, are kept out of the rows", "[record]") {
  test::store_counts_and_measures_what_is_odd(*open_memory_store());
}

TEST_CASE("memory store: samples are thinned out of closed runs for good, and the rest stays", "[record]") {
  test::store_thins_out(*open_memory_store());
}

TEST_CASE("memory store: takes in runs of another store, once", "[record]") {
  test::store_takes_in_runs(*open_memory_store());
}

TEST_CASE("memory store: can do without the samples and keeps all else", "[record]") {
  const auto store = open_memory_store({.keep_captures = false});
  const std::string run = store->reserve_run(test::some_day());
  const auto events = test::sample_events(run);
  store->write(run, events);
  CHECK(store->events(run, Samples::all).size() == events.size());
  CHECK_THROWS_WITH(store->capture(run, 7), Catch::Contains("holds no samples"));
}

TEST_CASE("memory store: does not take events of a run that nobody reserved", "[record]") {
  const auto store = open_memory_store();
  const auto events = test::sample_events("2030-01-07-4");
  CHECK_THROWS_AS(store->write("2030-01-07-4", events), base::Error);
}
