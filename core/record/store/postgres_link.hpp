// SPDX-License-Identifier: Apache-2.0
// One connection to a PostgreSQL server: opened when it is needed, dropped with the first failure, so that nothing is
// tried again on a connection whose state nobody knows; the next piece of work opens another one. Calls block; one call
// at a time.
#pragma once

#include <memory>
#include <optional>
#include <pqxx/pqxx>
#include <string>
#include <utility>

#include "core/base/error.hpp"
#include "core/record/store/rows.hpp"

namespace eyelevel::record {

class PostgresLink {
 public:
  // Throws Error(bad_input) when `where` is no connection string. Connects with the first work; `at_once` is said on
  // each new connection.
  explicit PostgresLink(const std::string& where, std::string at_once = "");
  PostgresLink(const PostgresLink&) = delete;
  PostgresLink& operator=(const PostgresLink&) = delete;
  ~PostgresLink();

  // The connection string without what is secret in it.
  const std::string& name() const { return name_; }
  bool is_open() const { return connection_ != nullptr; }

  // Does `work` in one transaction and commits it. Throws Error(no_connection) when the server cannot be reached or the
  // connection broke, else Error(`refused`).
  template <class Work>
  auto done(base::ErrorCode refused, const std::string& attempted, Work work)
      -> decltype(work(std::declval<pqxx::work&>())) {
    try {
      pqxx::work transaction(connection());
      auto result = work(transaction);
      transaction.commit();
      return result;
    } catch (const pqxx::pqxx_exception& e) {
      drop();
      throw error_of(refused, attempted, e);
    }
  }

  // Whether the server has notified of something since, or the connection is a new one. Throws Error(no_connection).
  bool heard();

  // Error(bad_input) about the database itself.
  base::Error bad_database(std::string message, std::string advice) const;

 private:
  pqxx::connection& connection();
  void drop();
  base::Error error_of(base::ErrorCode refused, const std::string& attempted, const pqxx::pqxx_exception& e) const;

  std::string options_;  // what is handed to the library, secrets included
  std::string name_;
  std::string at_once_;
  std::unique_ptr<pqxx::connection> connection_;
  bool is_new_ = false;  // since heard() was asked
};

// Makes its tables or brings them up to date. Throws Error(bad_input) when the database belongs to another program or
// was written by a newer one; Error(not_found) where it holds none and `create` is no.
void bring_up_to_date(PostgresLink& link, Create create);

// A row as texts, an absent value as an empty one.
std::vector<std::string> texts(const pqxx::row& row);
pqxx::result rows_of(pqxx::work& transaction, const Query& query);

}  // namespace eyelevel::record
