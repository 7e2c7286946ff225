// SPDX-License-Identifier: Apache-2.0
#include "core/record/migration/migrations.hpp"

#include <sqlite3.h>

#include <catch2/catch.hpp>

#include <memory>
#include <string>

#include "tests/support/postgres_schema.hpp"

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
  for (const std::string table : {"run", "event", "chunk", "job"}) {
    CAPTURE(table);
    CHECK(sqlite3_exec(db.get(), ("SELECT * FROM " + table).c_str(), nullptr, nullptr, nullptr) == SQLITE_OK);
  }
}

TEST_CASE("migrations: those of a server are accepted by PostgreSQL", "[record]") {
  const test::PostgresSchema schema;
  REQUIRE_FALSE(postgres_migrations().empty());
  for (const char* step : postgres_migrations()) schema.run(step);
  for (const std::string table : {"run", "event", "chunk", "job"})
    CHECK(schema.run("SELECT COUNT(*) FROM " + table) == "0");
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
  CHECK(hash(postgres_migrations()[0]) == 0xb0a94c3732527cb9U);
}
