// SPDX-License-Identifier: Apache-2.0
#include "core/service/access/ledger.hpp"

#include <SQLiteCpp/SQLiteCpp.h>
#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <system_error>
#include <utility>

#include "core/base/error.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/record/store/sqlite_error.hpp"

namespace eyelevel::service {
namespace {

using base::Error;
using base::ErrorCode;
using SQLite::Statement;

// Marks the file as ours (SQLite's application_id): "EyeA" as four bytes.
constexpr int application_id = 0x45796541;
constexpr int format = 1;

// Times are milliseconds of UTC since 1970.
constexpr const char* tables = R"sql(
CREATE TABLE user (
  name TEXT NOT NULL PRIMARY KEY,
  rights TEXT NOT NULL,
  password_hash TEXT NOT NULL,
  made INTEGER NOT NULL
) WITHOUT ROWID;
CREATE TABLE session (
  mark TEXT NOT NULL PRIMARY KEY,
  user TEXT NOT NULL REFERENCES user (name) ON DELETE CASCADE,
  begun INTEGER NOT NULL,
  used INTEGER NOT NULL
) WITHOUT ROWID;
CREATE TABLE token (
  id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
  mark TEXT NOT NULL UNIQUE,
  user TEXT NOT NULL REFERENCES user (name) ON DELETE CASCADE,
  name TEXT NOT NULL,
  rights TEXT NOT NULL,
  made INTEGER NOT NULL,
  expires INTEGER NOT NULL
);
CREATE TABLE seat (
  id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
  mark TEXT NOT NULL UNIQUE,
  bench TEXT NOT NULL,
  name TEXT NOT NULL,
  made_by TEXT NOT NULL,
  made INTEGER NOT NULL
);
CREATE TABLE audit (
  number INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
  at INTEGER NOT NULL,
  who TEXT NOT NULL,
  "from" TEXT NOT NULL,
  what TEXT NOT NULL,
  "with" TEXT NOT NULL,
  status INTEGER NOT NULL
);
)sql";

std::int64_t number_of(base::UtcTime time) { return time.time_since_epoch().count(); }
base::UtcTime time_of(std::int64_t number) { return base::UtcTime(base::UtcTime::duration(number)); }

// SQLite makes its helper files with the same rights as the file itself.
void make_for_owner_only(const std::filesystem::path& path) {
  const int file = ::open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, S_IRUSR | S_IWUSR);
  const bool is_made = file >= 0 && ::fchmod(file, S_IRUSR | S_IWUSR) == 0;
  const int error = errno;
  if (file >= 0) ::close(file);
  if (!is_made)
    throw record::bad_file(path.string(), std::generic_category().message(error),
                           "make its folder writable for the user who runs the daemon");
}

template <class... Values>
void bind_all(Statement& statement, const Values&... values) {
  int at = 0;
  (statement.bind(++at, values), ...);
}

Rights rights_from(const std::string& text) { return Rights::read(text).value_or(Rights()); }

}  // namespace

struct Ledger::File {
  explicit File(std::string name)
      : path(std::move(name)), db(path, SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE, busy_wait_ms) {
    db.exec("PRAGMA journal_mode=WAL");
    db.exec("PRAGMA synchronous=FULL");
    db.exec("PRAGMA foreign_keys=ON");
    bring_up_to_date();
  }

  void bring_up_to_date() {
    const int whose = db.execAndGet("PRAGMA application_id").getInt();
    const int version = db.execAndGet("PRAGMA user_version").getInt();
    const bool is_new = whose == 0 && db.execAndGet("SELECT COUNT(*) FROM sqlite_master").getInt() == 0;
    if (!is_new && whose != application_id)
      throw record::bad_file(path, "it holds no users of a daemon", "move it away; the daemon makes a new one");
    if (version > format)
      throw record::bad_file(path, "it was written by a newer program", "use that program, or a later one");
    if (!is_new) return;
    SQLite::Transaction transaction(db, SQLite::TransactionBehavior::IMMEDIATE);
    db.exec(tables);
    db.exec(fmt::format("PRAGMA application_id={}", application_id));
    db.exec(fmt::format("PRAGMA user_version={}", format));
    transaction.commit();
  }

  template <class Work>
  auto done(const char* attempted, Work work) -> decltype(work()) {
    try {
      return work();
    } catch (const SQLite::Exception& e) {
      throw record::error_of(ErrorCode::not_recording, path, attempted, e);
    }
  }

  template <class... Values>
  void execute(const char* attempted, const char* sql, const Values&... values) {
    done(attempted, [&] {
      Statement statement(db, sql);
      bind_all(statement, values...);
      return statement.exec();
    });
  }

  template <class... Values>
  std::int64_t insert(const char* attempted, const char* sql, const Values&... values) {
    execute(attempted, sql, values...);
    return db.getLastInsertRowid();
  }

  static constexpr int busy_wait_ms = 5000;
  std::string path;
  SQLite::Database db;
};

Ledger::Ledger(const std::filesystem::path& path) {
  make_for_owner_only(path);
  try {
    file_ = std::make_unique<File>(path.string());
  } catch (const SQLite::Exception& e) {
    throw record::error_of(ErrorCode::bad_input, path.string(), "opening the users of the daemon", e);
  }
}
Ledger::~Ledger() = default;

Book Ledger::read() {
  return file_->done("reading the users", [&] {
    Book book;
    for (Statement row(file_->db, "SELECT name, rights, password_hash, made FROM user ORDER BY name");
         row.executeStep();)
      book.users.push_back({row.getColumn(0).getString(), rights_from(row.getColumn(1).getString()),
                            row.getColumn(2).getString(), time_of(row.getColumn(3).getInt64())});
    for (Statement row(file_->db, "SELECT mark, user, begun, used FROM session"); row.executeStep();)
      book.sessions.push_back({row.getColumn(0).getString(), row.getColumn(1).getString(),
                               time_of(row.getColumn(2).getInt64()), time_of(row.getColumn(3).getInt64())});
    for (Statement row(file_->db, "SELECT id, mark, user, name, rights, made, expires FROM token ORDER BY id");
         row.executeStep();)
      book.tokens.push_back({row.getColumn(0).getInt64(), row.getColumn(1).getString(), row.getColumn(2).getString(),
                             row.getColumn(3).getString(), rights_from(row.getColumn(4).getString()),
                             time_of(row.getColumn(5).getInt64()), time_of(row.getColumn(6).getInt64())});
    for (Statement row(file_->db, "SELECT id, mark, bench, name, made_by, made FROM seat ORDER BY id");
         row.executeStep();)
      book.seats.push_back({row.getColumn(0).getInt64(), row.getColumn(1).getString(), row.getColumn(2).getString(),
                            row.getColumn(3).getString(), row.getColumn(4).getString(),
                            time_of(row.getColumn(5).getInt64())});
    return book;
  });
}

void Ledger::put(const User& user) {
  file_->execute("keeping a user",
                 "INSERT INTO user (name, rights, password_hash, made) VALUES (?, ?, ?, ?) ON CONFLICT (name) DO "
                 "UPDATE SET rights = excluded.rights, password_hash = excluded.password_hash",
                 user.name, user.rights.text(), user.password_hash, number_of(user.made));
}
void Ledger::remove_user(std::string_view name) {
  file_->execute("removing a user", "DELETE FROM user WHERE name = ?", std::string(name));
}

void Ledger::put(const Session& session) {
  file_->execute("keeping a session",
                 "INSERT INTO session (mark, user, begun, used) VALUES (?, ?, ?, ?) ON CONFLICT (mark) DO UPDATE SET "
                 "used = excluded.used",
                 session.mark, session.user, number_of(session.begun), number_of(session.used));
}
void Ledger::remove_session(std::string_view mark) {
  file_->execute("ending a session", "DELETE FROM session WHERE mark = ?", std::string(mark));
}
void Ledger::remove_other_sessions(std::string_view user, std::string_view mark) {
  file_->execute("ending sessions", "DELETE FROM session WHERE user = ? AND mark <> ?", std::string(user),
                 std::string(mark));
}

std::int64_t Ledger::add(const Token& token) {
  return file_->insert(
      "keeping a token", "INSERT INTO token (mark, user, name, rights, made, expires) VALUES (?, ?, ?, ?, ?, ?)",
      token.mark, token.user, token.name, token.rights.text(), number_of(token.made), number_of(token.expires));
}
void Ledger::remove_token(std::int64_t id) { file_->execute("removing a token", "DELETE FROM token WHERE id = ?", id); }

std::int64_t Ledger::add(const Seat& seat) {
  return file_->insert("keeping a seat", "INSERT INTO seat (mark, bench, name, made_by, made) VALUES (?, ?, ?, ?, ?)",
                       seat.mark, seat.bench, seat.name, seat.made_by, number_of(seat.made));
}
void Ledger::remove_seat(std::int64_t id) { file_->execute("removing a seat", "DELETE FROM seat WHERE id = ?", id); }

std::int64_t Ledger::add(const AuditEntry& entry) {
  return file_->insert("keeping who changes what",
                       "INSERT INTO audit (at, who, \"from\", what, \"with\", status) VALUES (?, ?, ?, ?, ?, ?)",
                       number_of(entry.at), record::clean_utf8(entry.who), record::clean_utf8(entry.from),
                       record::clean_utf8(entry.what), record::clean_utf8(entry.with), entry.status);
}
void Ledger::told(std::int64_t number, int status) {
  file_->execute("keeping who changed what", "UPDATE audit SET status = ? WHERE number = ?", status, number);
}

std::vector<AuditEntry> Ledger::audit(std::int64_t before, std::size_t at_most) {
  return file_->done("reading who changed what", [&] {
    Statement row(file_->db,
                  "SELECT number, at, who, \"from\", what, \"with\", status FROM audit WHERE ?1 = 0 OR number < ?1 "
                  "ORDER BY number DESC LIMIT ?2");
    bind_all(row, before, static_cast<std::int64_t>(at_most));
    std::vector<AuditEntry> list;
    while (row.executeStep())
      list.push_back({row.getColumn(0).getInt64(), time_of(row.getColumn(1).getInt64()), row.getColumn(2).getString(),
                      row.getColumn(3).getString(), row.getColumn(4).getString(), row.getColumn(5).getString(),
                      row.getColumn(6).getInt()});
    return list;
  });
}

}  // namespace eyelevel::service
