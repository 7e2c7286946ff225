// SPDX-License-Identifier: Apache-2.0
#include "core/record/store/sqlite_error.hpp"

#include <sqlite3.h>

#include <catch2/catch.hpp>

using namespace eyelevel;

TEST_CASE("store errors: what SQLite refused is said in words, with what to do and its own number", "[record]") {
  // Result codes: SQLite, "Result and Error Codes".
  const SQLite::Exception full("database or disk is full", SQLITE_FULL);
  const auto error = record::error_of(base::ErrorCode::not_recording, "records.db", "storing 3 events", full);
  CHECK(error.record().message == "not recording: the disk is full");
  CHECK(error.record().where == "store records.db");
  CHECK(error.record().attempted == "storing 3 events");
  CHECK(error.record().advice.find("free some space") == 0);
  CHECK(error.record().cause.find("database or disk is full") == 0);
}

TEST_CASE("store errors: locked, damaged and foreign files are told apart", "[record]") {
  CHECK(record::cause_of(SQLite::Exception("", SQLITE_BUSY)).message.find("locked") != std::string::npos);
  CHECK(record::cause_of(SQLite::Exception("", SQLITE_CORRUPT)).message == "it is damaged");
  CHECK(record::cause_of(SQLite::Exception("", SQLITE_NOTADB)).message.find("no SQLite file") != std::string::npos);
  CHECK(record::cause_of(SQLite::Exception("", SQLITE_MISUSE)).advice.find("defect") != std::string::npos);
}
