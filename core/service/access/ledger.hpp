// SPDX-License-Identifier: Apache-2.0
// Users, their sessions and tokens, the seats at benches, and who changed what: a SQLite file of its own beside the
// records, readable by its owner only. Of passwords and secrets it holds what cannot be turned back (secret.hpp). All
// calls block; each is all or nothing and survives a kill when it returned. Throws Error(not_recording) when nothing
// can be written, Error(bad_input) for a file that is none.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/timeline.hpp"
#include "core/service/access/rights.hpp"

namespace eyelevel::service {

struct User {
  std::string name;
  Rights rights;
  std::string password_hash;
  base::UtcTime made{};
};

// A signed-in browser.
struct Session {
  std::string mark;  // of its secret
  std::string user;
  base::UtcTime begun{};
  base::UtcTime used{};
};

// A program that may speak for a user, until a day.
struct Token {
  std::int64_t id = 0;
  std::string mark;
  std::string user;
  std::string name;
  Rights rights;
  base::UtcTime made{};
  base::UtcTime expires{};
};

// A screen that stands at a bench, whoever uses it.
struct Seat {
  std::int64_t id = 0;
  std::string mark;
  std::string bench;
  std::string name;
  std::string made_by;
  base::UtcTime made{};
};

struct AuditEntry {
  std::int64_t number = 0;
  base::UtcTime at{};
  std::string who;   // a user; "token 3 of NAME"; "at this machine"
  std::string from;  // address
  std::string what;  // "POST /api/1/jobs"
  std::string with;  // the body, without passwords
  int status = 0;    // of the answer; 0: it was never told
};

struct Book {
  std::vector<User> users;
  std::vector<Session> sessions;
  std::vector<Token> tokens;
  std::vector<Seat> seats;
};

class Ledger {
 public:
  explicit Ledger(const std::filesystem::path& path);
  Ledger(const Ledger&) = delete;
  Ledger& operator=(const Ledger&) = delete;
  ~Ledger();

  Book read();

  void put(const User& user);
  // With sessions and tokens.
  void remove_user(std::string_view name);
  void put(const Session& session);
  void remove_session(std::string_view mark);
  // All of a user but one.
  void remove_other_sessions(std::string_view user, std::string_view mark);
  std::int64_t add(const Token& token);
  void remove_token(std::int64_t id);
  std::int64_t add(const Seat& seat);
  void remove_seat(std::int64_t id);

  std::int64_t add(const AuditEntry& entry);
  void told(std::int64_t number, int status);
  // Newest first, those before a number (0: all).
  std::vector<AuditEntry> audit(std::int64_t before, std::size_t at_most);

 private:
  struct File;
  std::unique_ptr<File> file_;
};

}  // namespace eyelevel::service
