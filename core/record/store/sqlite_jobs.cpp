// SPDX-License-Identifier: Apache-2.0
// Jobs in the SQLite file of the store, over a connection of their own. One writer at a time: nobody passes anybody
// over.
#include <SQLiteCpp/SQLiteCpp.h>
#include <fmt/format.h>

#include "core/base/error.hpp"
#include "core/record/store/jobs_database.hpp"
#include "core/record/store/sqlite_error.hpp"

namespace eyelevel::record {
namespace {

using base::ErrorCode;

class SqliteJobs final : public JobsDatabase {
 public:
  explicit SqliteJobs(const std::string& path) : path_(path), db_(path, SQLite::OPEN_READWRITE, busy_wait_ms) {
    db_.exec("PRAGMA synchronous=FULL");
    db_.exec("PRAGMA foreign_keys=ON");
  }

  void transact(const std::string& attempted, const std::function<void(const Sql&)>& work) override {
    try {
      SQLite::Transaction transaction(db_, SQLite::TransactionBehavior::IMMEDIATE);
      work([this](const Query& query) { return rows(query); });
      transaction.commit();
    } catch (const SQLite::Exception& e) {
      throw error_of(ErrorCode::not_recording, path_, attempted, e);
    }
  }

  std::string now_ms(base::UtcTime now) const override { return std::to_string(now.time_since_epoch().count()); }
  std::string passing_over_locked() const override { return ""; }
  std::string telling() const override { return ""; }
  bool heard() override { return false; }
  std::string name() const override { return path_; }

 private:
  static constexpr int busy_wait_ms = 5000;

  std::vector<Row> rows(const Query& query) {
    SQLite::Statement statement(db_, query.sql);
    int at = 0;
    for (const std::string& value : query.values) statement.bind(++at, value);
    std::vector<Row> list;
    while (statement.executeStep()) {
      Row& row = list.emplace_back();
      for (int i = 0; i < statement.getColumnCount(); ++i) row.push_back(statement.getColumn(i).getString());
    }
    return list;
  }

  std::string path_;
  SQLite::Database db_;
};

}  // namespace

std::unique_ptr<JobsDatabase> sqlite_jobs(const std::string& path) {
  try {
    return std::make_unique<SqliteJobs>(path);
  } catch (const SQLite::Exception& e) {
    throw error_of(ErrorCode::bad_input, path, "opening its jobs", e);
  }
}

}  // namespace eyelevel::record
