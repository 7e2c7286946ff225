// SPDX-License-Identifier: Apache-2.0
#include "core/record/migration/migrations.hpp"

#include <sqlite3.h>

#include <catch2/catch.hpp>

#include <memory>
#include <string>
#include <vector>

#include "tests/core/record/store_suite.hpp"
#include "tests/support/postgres_schema.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

namespace {
struct Close {
  void operator()(sqlite3* db) const { sqlite3_close(db); }
};
}  // namespace

TEST_CASE("migrations: applied in order to an empty file, each is accepted by SQLite", "[record]") {
  sqlite3* raw = nullptr;
  REQUIRE(sqlite3_open(":memory:", &raw) == SQLITE_OK);
  const std::unique_ptr<sqlite3, Close> db(raw);
  REQUIRE_FALSE(migrations().empty());
  for (const char* step : migrations()) {
    CHECK(sqlite3_exec(db.get(), step, nullptr, nullptr, nullptr) == SQLITE_OK);
  }
  for (const std::string table : {"run", "event", "chunk", "job", "book", "reading"}) {
    CAPTURE(table);
    CHECK(sqlite3_exec(db.get(), ("SELECT * FROM " + table).c_str(), nullptr, nullptr, nullptr) == SQLITE_OK);
  }
}

TEST_CASE("migrations: those of a server are accepted by PostgreSQL", "[record]") {
  const test::PostgresSchema schema;
  REQUIRE_FALSE(postgres_migrations().empty());
  for (const char* step : postgres_migrations()) schema.run(step);
  for (const std::string table : {"run", "event", "chunk", "job", "book", "reading"})
    CHECK(schema.run("SELECT COUNT(*) FROM " + table) == "0");
}

namespace {

// Two runs as a store of the format before the books has them: one that was answered twice, one that nobody answered.
std::vector<std::string> runs_before_books() {
  std::vector<std::string> list;
  for (const std::string run : {"2030-01-07-1", "2030-01-07-2"})
    list.push_back("INSERT INTO run (id, day, number) VALUES ('" + run + "', '2030-01-07', " + run.back() + ")");
  // The note looks like an answer; NUL is what PostgreSQL knows no way to keep as text.
  const event::Body bodies[] = {event::Noted{{}, "\"event\":\"answered\""}, event::Answered{{}, "done", ""},
                                event::Answered{{}, std::string("do\0ne", 5), "anna"},
                                event::Answered{{}, "done", "ben"}};
  std::int64_t number = 0;
  for (const auto& body : bodies) {
    ++number;
    const std::string text = text_of(to_json({"2030-01-07-1", number, 0, test::some_day(), body}));
    list.push_back("INSERT INTO event (run, number, body) VALUES ('2030-01-07-1', " + std::to_string(number) + ", '" +
                   text + "')");
  }
  return list;
}

}  // namespace

TEST_CASE("migrations: runs that were there before the books get the first who answered, in a file", "[record]") {
  sqlite3* raw = nullptr;
  REQUIRE(sqlite3_open(":memory:", &raw) == SQLITE_OK);
  const std::unique_ptr<sqlite3, Close> db(raw);
  const auto run = [&](const std::string& sql) {
    REQUIRE(sqlite3_exec(db.get(), sql.c_str(), nullptr, nullptr, nullptr) == SQLITE_OK);
  };
  for (const char* step : migrations().first(4)) run(step);
  for (const std::string& sql : runs_before_books()) run(sql);
  run(migrations()[4]);
  std::string operators;
  const auto keep = [](void* to, int, char** values, char**) {
    *static_cast<std::string*>(to) += std::string(values[0]) + ";";
    return 0;
  };
  REQUIRE(sqlite3_exec(db.get(), "SELECT operator FROM run ORDER BY id", keep, &operators, nullptr) == SQLITE_OK);
  CHECK(operators == "anna;;");
}

TEST_CASE("migrations: and on a server", "[record]") {
  const test::PostgresSchema schema;
  schema.run(postgres_migrations()[0]);
  for (const std::string& sql : runs_before_books()) schema.run(sql);
  schema.run(postgres_migrations()[1]);
  CHECK(schema.run("SELECT string_agg(operator, ';' ORDER BY id) FROM run") == "anna;");
}

namespace {

// Runs whose readings are not all alike: measured twice in a loop and judged once, judged twice, endless, with a NUL
// and a written backslash in a note, and one that goes on from another.
void write_runs_with_readings(Store& store) {
  const std::string sample = store.reserve_run(test::some_day());
  store.write(sample, test::sample_events(sample));
  test::write_sample_run(store, {1, "LF2-1", "LF-2", "one", "anna", 1.2, metrology::Judgement::fail});
  test::write_sample_run(store, {2, "LF2-1", "LF-2", "one", "ben", 1.2, std::nullopt});
  const std::string odd = store.reserve_run(test::some_day());
  metrology::Reading reading = test::sample_reading();
  std::vector<event::Event> events{test::sample_event(odd, 1, test::sample_bodies().front())};
  const auto add = [&](event::Body body) {
    events.push_back(test::sample_event(odd, static_cast<std::int64_t>(events.size()) + 1, std::move(body)));
  };
  reading.notes = {std::string("a\0\0b", 4), "\\u0000", "\\\\u0000 \"event\":\"judged\""};
  add(event::Measured{{}, reading});
  add(event::Judged{{}, reading.name, metrology::Judgement::pass, {1.1, std::nullopt}});
  add(event::Judged{{}, reading.name, metrology::Judgement::undecided, {std::nullopt, 1.2}});
  reading.value = std::numeric_limits<double>::infinity();
  reading.interval.expanded_uncertainty = std::numeric_limits<double>::quiet_NaN();
  add(event::Measured{{}, reading});
  add(event::Judged{{}, reading.name, metrology::Judgement::fail, {1.0, 1.2}});
  add(event::Judged{{}, "nothing of that name", metrology::Judgement::fail, {}});
  store.write(odd, events);
}

std::string told(const std::vector<ReadingRow>& rows) {
  std::string list;
  const auto number = [](const std::optional<double>& x) { return x ? std::to_string(*x) : "none"; };
  for (const ReadingRow& r : rows)
    list += r.run + " " + std::to_string(r.number) + " " + r.name + " " + number(r.value) + " " + r.unit + " " +
            number(r.standard_uncertainty) + " " + number(r.expanded_uncertainty) + " " +
            number(r.limit.value_or(metrology::Limit{}).at_least) + " " +
            number(r.limit.value_or(metrology::Limit{}).at_most) + " " +
            (r.judgement ? std::string(name_of(*r.judgement)) : "not judged") + " " + utc_text(r.begun) + " " +
            r.sequence + " " + r.serial + " " + r.model + " " + r.bench + " " + r.operator_name + "\n";
  return list;
}

}  // namespace

TEST_CASE("migrations: readings of runs that were there before come out of their events as they were, in a file",
          "[record]") {
  const test::TemporaryFolder folder;
  const auto store = open_file_store(folder / "bench.store");
  write_runs_with_readings(*store);
  const std::string before = told(store->readings({}));
  CHECK(store->readings({}).size() == 6);
  sqlite3* raw = nullptr;
  REQUIRE(sqlite3_open((folder / "bench.store").c_str(), &raw) == SQLITE_OK);
  const std::unique_ptr<sqlite3, Close> db(raw);
  const std::string again = std::string("DROP TABLE reading; DROP INDEX run_by_tally;") + migrations()[5];
  REQUIRE(sqlite3_exec(db.get(), again.c_str(), nullptr, nullptr, nullptr) == SQLITE_OK);
  CHECK(told(store->readings({})) == before);
}

TEST_CASE("migrations: readings of runs that were there before come out of their events as they were, on a server",
          "[record]") {
  const test::PostgresSchema schema;
  const auto store = open_postgres_store(schema.url());
  write_runs_with_readings(*store);
  const std::string before = told(store->readings({}));
  CHECK(store->readings({}).size() == 6);
  schema.run(std::string("DROP TABLE reading; DROP INDEX run_by_tally;") + postgres_migrations()[2]);
  CHECK(told(store->readings({})) == before);
}

// FNV-1a of the text as released: a store made last year is brought up by these bytes.
TEST_CASE("migrations: a released one is never edited", "[record]") {
  const auto hash = [](const std::string& text) {
    std::uint64_t h = 14695981039346656037U;
    for (const char c : text) h = (h ^ static_cast<unsigned char>(c)) * 1099511628211U;
    return h;
  };
  CHECK(hash(migrations()[0]) == 0x5040f5cb044cf7e2U);
  CHECK(hash(migrations()[1]) == 0x4844ca029550224eU);
  CHECK(hash(migrations()[2]) == 0xa13d29cb174ee635U);
  CHECK(hash(migrations()[3]) == 0xfc1c8db3ced2b73dU);
  CHECK(hash(migrations()[4]) == 0x7ce8ab18133ae995U);
  CHECK(hash(migrations()[5]) == 0x339a09e10174b34fU);
  CHECK(hash(migrations()[6]) == 0x729af1cbcbbc5359U);
  CHECK(hash(postgres_migrations()[0]) == 0xb0a94c3732527cb9U);
  CHECK(hash(postgres_migrations()[1]) == 0x83f7e6b0920b166bU);
  CHECK(hash(postgres_migrations()[2]) == 0x5b8b0193fa67dd57U);
  CHECK(hash(postgres_migrations()[3]) == 0x79c02b14515c8030U);
}
