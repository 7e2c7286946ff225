// SPDX-License-Identifier: Apache-2.0
// What a store of many runs does for a listing: EXPLAIN of exactly the statements that are used, on a store filled by
// SQL. Neither reads a table from one end to the other: SQLite says "SCAN run" for that, without naming an index, and
// PostgreSQL "Seq Scan" (SQLite documentation, EXPLAIN QUERY PLAN, 1.1; PostgreSQL 15 documentation, 14.1.1). SQLite
// reads the newest ended jobs backwards in the order of the key, until it has as many as were asked for: that is no
// index, and no whole table either. Of a small table PostgreSQL may rightly read all, so that it is told not to where
// it can (20.7.1); of a million runs its own choice counts. EYELEVEL_RUNS=1000000 makes it a million (tests/long).
#include <sqlite3.h>

#include <catch2/catch.hpp>

#include <chrono>
#include <cstdlib>
#include <memory>

#include "core/record/bench_proof.hpp"
#include "core/record/store/jobs_database.hpp"
#include "core/record/store/readings.hpp"
#include "tests/core/record/jobs_places.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

namespace {

std::string how_many() {
  const char* number = std::getenv("EYELEVEL_RUNS");
  return number == nullptr ? "20000" : number;
}

// A run every minute from 2020 on, 40 units to a serial, 4 benches, 3 sequences; a job for each, 100 of them not over.
// Statement by statement what both databases understand, but for the numbers and the times.
std::vector<std::string> filling(const std::string& numbers, const std::string& day, const std::string& begun) {
  return {
      "INSERT INTO run (id, day, number, begun_utc, closed_utc, sequence, serial, model, bench, ended, judgement, "
      "program, operator, "
      "proves) SELECT " +
          day + " || '-' || n, " + day + ", n, " + begun + ", " + begun +
          ", 'sequence-' || (n % 3), 'LF2-' || (n / 40), 'LF-2', 'bench-' || (n % 4), 'finished', CASE WHEN n % 50 = 0 "
          "THEN 'fail' ELSE 'pass' END, 'eyelevel', 'operator-' || (n % 5), "
          "CASE "
          "WHEN n % "
          "500 = 0 THEN 'bench' ELSE '' END FROM " +
          numbers,
      "INSERT INTO job (bench, sequence, serial, model, given, priority, asked_by, asked_utc, state) SELECT 'bench-' "
      "|| (n % 4), "
      "'quick.yaml', '', '', '[]', n % 3, '', '2030-01-07T08:00:00.000Z', CASE WHEN n % (" +
          how_many() + " / 100) <> 0 THEN 'done' WHEN n % 7 = 0 THEN 'interrupted' ELSE 'waiting' END FROM " + numbers,
      "INSERT INTO book (placed_utc, utc, kind, subject, concerns, by_whom, because, body) SELECT " + begun + ", " +
          begun +
          ", CASE WHEN n % 500 = 0 THEN 'run corrected' ELSE 'unit taken in' END, 'LF2-' || (n / 4), '', 'anna', '', "
          "'{}' "
          "FROM " +
          numbers,
      "INSERT INTO reading (run, number, name, value, unit, standard_uncertainty, expanded_uncertainty, at_least, "
      "at_most, judgement, begun_utc, sequence, serial, model, bench, operator) SELECT id, kind.number, kind.name, 1.2 "
      "+ "
      "(run.number % 17) * 0.01, 'V', 0.01, 0.02, 1.1, 1.3, judgement, begun_utc, sequence, serial, model, bench, "
      "operator FROM run CROSS JOIN (SELECT 5 AS number, 'level' AS name UNION ALL SELECT 7, 'jitter') AS kind"};
}

struct File : test::Kept<test::InFile> {
  File() {
    sqlite3* raw = nullptr;
    REQUIRE(sqlite3_open(place.where().c_str(), &raw) == SQLITE_OK);
    db.reset(raw);
    const std::string numbers = "(WITH RECURSIVE c(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM c WHERE n < " +
                                how_many() + ") SELECT n FROM c)";
    for (const auto& sql : filling(numbers, "strftime('%Y-%m-%d', 1577836800 + 60 * n, 'unixepoch')",
                                   "strftime('%Y-%m-%dT%H:%M:%S.000Z', 1577836800 + 60 * n, 'unixepoch')"))
      REQUIRE(sqlite3_exec(db.get(), sql.c_str(), nullptr, nullptr, nullptr) == SQLITE_OK);
    REQUIRE(sqlite3_exec(db.get(), "ANALYZE", nullptr, nullptr, nullptr) == SQLITE_OK);
  }
  // The lines that read a whole table.
  std::string whole_tables(const Query& query) const {
    std::string lines;
    const auto keep = [](void* kept, int, char** values, char**) {
      const std::string line = values[3];
      if (line.starts_with("SCAN") && line.find("USING") == std::string::npos)
        *static_cast<std::string*>(kept) += line + "\n";
      return 0;
    };
    // Without values: a plan does not depend on them.
    REQUIRE(sqlite3_exec(db.get(), ("EXPLAIN QUERY PLAN " + query.sql).c_str(), keep, &lines, nullptr) == SQLITE_OK);
    return query.sql.find("ORDER BY id DESC") != std::string::npos && lines == "SCAN job\n" ? "" : lines;
  }
  struct Close {
    void operator()(sqlite3* one) const { sqlite3_close(one); }
  };
  std::unique_ptr<sqlite3, Close> db;
};

struct Server : test::Kept<test::OnServer> {
  Server() {
    const std::string numbers = "generate_series(1, " + how_many() + ") AS n";
    const std::string time = "to_timestamp(1577836800 + 60 * n) AT TIME ZONE 'UTC'";
    for (const auto& sql : filling(numbers, "to_char(" + time + ", 'YYYY-MM-DD')",
                                   "to_char(" + time + ", 'YYYY-MM-DD\"T\"HH24:MI:SS.\"000Z\"')"))
      place.schema.run(sql);
    place.schema.run("ANALYZE run; ANALYZE job; ANALYZE book; ANALYZE reading");
  }
  std::string whole_tables(const Query& query) const {
    pqxx::connection connection(place.where());
    pqxx::work transaction(connection);
    std::string lines;
    if (std::getenv("EYELEVEL_RUNS") == nullptr) transaction.exec("SET LOCAL enable_seqscan = off");
    for (const auto& row :
         transaction.exec_params("EXPLAIN " + query.sql, pqxx::prepare::make_dynamic_params(query.values)))
      if (const std::string line = row[0].c_str(); line.find("Seq Scan") != std::string::npos) lines += line + "\n";
    return lines;
  }
};

std::vector<Query> listings() {
  std::vector<Query> all;
  for (unsigned asked = 0; asked < 128; ++asked) {
    const auto is_asked = [&](unsigned bit) { return (asked >> bit & 1U) != 0; };
    RunQuery query;
    if (is_asked(0)) query.serial = "LF2-77";
    if (is_asked(1)) query.sequence = "sequence-1";
    if (is_asked(2)) query.bench = "bench-2";
    if (is_asked(3)) query.model = "LF-2";
    if (is_asked(4)) query.operator_name = "anna";
    if (is_asked(5)) query.judgement = metrology::Judgement::fail;
    if (is_asked(6)) {
      query.from = test::some_day();
      query.until = test::some_day();
    }
    all.push_back(runs_query(query));
  }
  for (unsigned asked = 0; asked < 8; ++asked) {
    BookQuery query;
    if ((asked & 1U) != 0) query.kind = "run corrected";
    if ((asked & 2U) != 0) query.subject = "2020-01-01-77";
    if ((asked & 4U) != 0) query.concerns = "LF2-77";
    all.push_back(book_query(query));
  }
  for (unsigned asked = 0; asked < 128; ++asked) {
    const auto is_asked = [&](unsigned bit) { return (asked >> bit & 1U) != 0; };
    ReadingQuery query;
    if (is_asked(0)) query.name = "level";
    if (is_asked(1)) query.model = "LF-2";
    if (is_asked(2)) query.serial = "LF2-77";
    if (is_asked(3)) query.bench = "bench-2";
    if (is_asked(4)) query.operator_name = "operator-3";
    if (is_asked(5)) query.since = query.until = test::some_day();
    if (is_asked(6)) query.run = "2020-01-01-77";
    all.push_back(readings_query(query));
  }
  // Of some days: a count of all runs may read all.
  all.push_back(tallies_query({.since_day = "2020-01-05", .until_day = "2020-01-07"}));
  RunQuery proof;
  proof.bench = "bench-0";
  proof.proves = "bench";
  all.push_back(runs_query(proof));
  RunQuery to_thin_out;
  to_thin_out.is_to_thin_out = true;
  to_thin_out.until = test::some_day();
  all.push_back(runs_query(to_thin_out));
  all.push_back({one_run_query, {"2020-01-01-77"}});
  for (const std::optional<std::string>& bench :
       {std::optional<std::string>(), std::optional<std::string>("bench-1")}) {
    for (const Query& query : jobs_queries({.bench = bench})) all.push_back(query);
    for (const auto state : {JobState::waiting, JobState::under_way, JobState::interrupted, JobState::done,
                             JobState::withdrawn, JobState::refused})
      for (const Query& query : jobs_queries({.bench = bench, .state = state})) all.push_back(query);
  }
  all.push_back(next_job_query("bench-1", {}));
  all.push_back({job_counts_query, {}});
  return all;
}

}  // namespace

TEMPLATE_TEST_CASE("plans: no listing reads a whole table, and each is there at once", "[record]", File, Server) {
  const TestType kept;
  for (const Query& query : listings()) {
    CAPTURE(query.sql);
    CHECK(kept.whole_tables(query).empty());
  }
  // Bounded by far: a sheet is to be there in 0.1 s of processor time with a million runs.
  const auto begin = std::clock();
  RunQuery one_unit;
  one_unit.serial = "LF2-77";
  CHECK(kept.store->runs(one_unit).size() == 40);
  CHECK(kept.store->readings({.serial = "LF2-77"}).size() == 80);
  CHECK(kept.store->readings({.name = "level", .bench = "bench-2"}).size() == 1000);
  CHECK(kept.store->book({.subject = "LF2-77"}).size() == 4);
  CHECK(last_proof(*kept.store, "bench-0", test::some_day(), 1e9).run.ends_with("00"));
  CHECK(kept.jobs->list({.bench = "bench-1"}).size() == 1000);
  CHECK(kept.jobs->list({}).size() == 1000);
  CHECK(static_cast<double>(std::clock() - begin) / CLOCKS_PER_SEC < 0.5);
}
