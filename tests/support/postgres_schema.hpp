// SPDX-License-Identifier: Apache-2.0
// A room for one test on the server that tests/support/postgres.py has started (ctest does; by hand:
// `tests/support/postgres.py build/release/bin/tests_core_record`): a schema of its own, gone with all that is in it
// when the test is over.
#pragma once

#include <atomic>
#include <cstdlib>
#include <pqxx/pqxx>
#include <stdexcept>
#include <string>

namespace eyelevel::test {

inline std::string postgres_server() {
  const char* url = std::getenv("EYELEVEL_POSTGRES");
  if (url == nullptr)
    throw std::runtime_error("EYELEVEL_POSTGRES names no server: run this through tests/support/postgres.py");
  return url;
}

class PostgresSchema {
 public:
  PostgresSchema() {
    static std::atomic<int> number{0};
    name_ = "test_" + std::to_string(++number);
    run("CREATE SCHEMA " + name_);
  }
  PostgresSchema(const PostgresSchema&) = delete;
  PostgresSchema& operator=(const PostgresSchema&) = delete;
  ~PostgresSchema() { run("DROP SCHEMA " + name_ + " CASCADE"); }

  // A connection string.
  std::string url() const { return postgres_server() + "&options=-csearch_path%3D" + name_; }

  // On a connection of its own; the first value of the first row, empty where there is none.
  std::string run(const std::string& sql) const {
    pqxx::connection connection(postgres_server());
    pqxx::work transaction(connection);
    transaction.exec("SET client_min_messages = error; SET search_path = " + name_);
    const pqxx::result rows = transaction.exec(sql);
    transaction.commit();
    return rows.empty() || rows.columns() == 0 ? "" : rows[0][0].c_str();
  }

 private:
  std::string name_;
};

}  // namespace eyelevel::test
