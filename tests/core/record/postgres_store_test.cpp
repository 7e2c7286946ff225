// SPDX-License-Identifier: Apache-2.0
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <catch2/catch.hpp>
#include <thread>

#include "tests/core/record/store_suite.hpp"
#include "tests/support/postgres_schema.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

TEST_CASE("postgres store: keeps runs as every store must, also after it was closed and opened again", "[record]") {
  const test::PostgresSchema schema;
  {
    const auto store = open_store(schema.url());
    CHECK_FALSE(store->works_inline());
    test::store_keeps_runs(*store);
  }
  const auto again = open_postgres_store(schema.url(), Create::no);
  CHECK(again->runs({}).size() == 2);
  CHECK(again->capture("2030-01-07-1", 7)->codes == test::sample_waveform()->codes);
  CHECK(again->reserve_run(test::some_day()) == "2030-01-07-3");
}

TEST_CASE("postgres store: finds runs by model, operator, judgement and day", "[record]") {
  const test::PostgresSchema schema;
  test::store_finds_runs(*open_postgres_store(schema.url()));
}

TEST_CASE("postgres store: keeps books in the order in which they hold", "[record]") {
  const test::PostgresSchema schema;
  test::store_keeps_books(*open_postgres_store(schema.url()));
}

TEST_CASE("postgres store: keeps readings beside their runs and counts these", "[record]") {
  const test::PostgresSchema schema;
  test::store_keeps_readings(*open_postgres_store(schema.url()));
}

TEST_CASE("postgres store: readings that are not finite, and proofs of a bench, are kept out of the rows", "[record]") {
  const test::PostgresSchema schema;
  test::store_counts_and_measures_what_is_odd(*open_postgres_store(schema.url()));
}

TEST_CASE("postgres store: samples are thinned out of closed runs for good, and the rest stays", "[record]") {
  const test::PostgresSchema schema;
  test::store_thins_out(*open_postgres_store(schema.url()));
}

TEST_CASE("postgres store: takes in runs of another store, once", "[record]") {
  const test::PostgresSchema schema;
  test::store_takes_in_runs(*open_postgres_store(schema.url()));
}

TEST_CASE("postgres store: two programs make its tables and write into it, and each run gets its own number",
          "[record]") {
  const test::PostgresSchema schema;
  constexpr int runs_each = 20;
  std::array<std::string, 2> failed;
  const auto write_runs = [&schema](std::string& failure) {
    try {
      const auto store = open_postgres_store(schema.url());
      for (int i = 0; i < runs_each; ++i) {
        const std::string run = store->reserve_run(test::some_day());
        store->write(run, test::sample_events(run));
      }
    } catch (const base::Error& e) {
      failure = e.what();
    }
  };
  std::thread other(write_runs, std::ref(failed[1]));
  write_runs(failed[0]);
  other.join();
  CHECK(failed == std::array<std::string, 2>{});
  const auto list = open_postgres_store(schema.url())->runs({});
  CHECK(list.size() == 2 * runs_each);
  for (const auto& run : list) CHECK(run.ended == "stopped");
}

TEST_CASE("postgres store: once the connection broke, nothing more is recorded until it is opened anew", "[record]") {
  const test::PostgresSchema schema;
  const auto store = open_postgres_store(schema.url());
  const std::string run = store->reserve_run(test::some_day());
  const auto events = test::sample_events(run);
  store->write(run, std::span(events).first(2));
  schema.run("SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity WHERE application_name = 'eyelevel'");
  const auto next = std::span(events).subspan(2, 1);
  CHECK_THROWS_WITH(store->write(run, next), Catch::Contains("not recording: ") && Catch::Contains("reached"));
  CHECK_THROWS_WITH(store->write(run, next), Catch::Contains("not recording: "));
  CHECK_THROWS_WITH(store->reserve_run(test::some_day()), Catch::Contains("not recording: "));
  CHECK(store->events(run, Samples::all).size() == 2);
  open_postgres_store(schema.url())->write(run, next);
  CHECK(store->events(run, Samples::all).size() == 3);
}

TEST_CASE("postgres store: a write that fails leaves nothing of its step", "[record]") {
  const test::PostgresSchema schema;
  const auto store = open_postgres_store(schema.url());
  const std::string run = store->reserve_run(test::some_day());
  auto events = test::sample_events(run);
  events[3].number = 2;  // the second of that number
  try {
    store->write(run, std::span(events).first(4));
    FAIL("it was taken");
  } catch (const base::Error& e) {
    CHECK(e.record().code == base::ErrorCode::not_recording);
  }
  CHECK(open_postgres_store(schema.url())->runs({}).empty());
  CHECK(schema.run("SELECT COUNT(*) FROM event") == "0");
}

TEST_CASE("postgres store: what is no store of ours is refused and left as it was", "[record]") {
  const test::PostgresSchema schema;
  CHECK_THROWS_WITH(open_postgres_store(schema.url(), Create::no), Catch::Contains("it holds no records yet"));
  CHECK(schema.run("SELECT COUNT(*) FROM pg_tables WHERE schemaname = current_schema()") == "0");
  schema.run("CREATE TABLE song (title text)");
  CHECK_THROWS_WITH(open_postgres_store(schema.url()), Catch::Contains("the database of another program"));
  CHECK(schema.run("SELECT COUNT(*) FROM pg_tables WHERE schemaname = current_schema()") == "1");

  const test::PostgresSchema newer;
  open_postgres_store(newer.url());
  newer.run("UPDATE eyelevel_format SET format = 7");
  CHECK_THROWS_WITH(open_postgres_store(newer.url()),
                    Catch::Contains("a newer eyelevel wrote this store: its format is 7"));
}

TEST_CASE("postgres store: damaged events and samples are said, with the store's name", "[record]") {
  const test::PostgresSchema schema;
  const auto store = open_postgres_store(schema.url());
  const std::string run = store->reserve_run(test::some_day());
  store->write(run, test::sample_events(run));
  schema.run("UPDATE chunk SET bytes = '\\x00112233'");
  CHECK_THROWS_WITH(store->capture(run, 7), Catch::Contains(store->name()) && Catch::Contains("damaged"));
  schema.run("UPDATE event SET body = '{' WHERE number = 3");
  CHECK_THROWS_WITH(store->events(run, Samples::none), Catch::Contains(store->name()) && Catch::Contains("no JSON"));
}
