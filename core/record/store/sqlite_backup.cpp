// SPDX-License-Identifier: Apache-2.0
#include "core/record/store/sqlite_backup.hpp"

#include <SQLiteCpp/Backup.h>
#include <SQLiteCpp/SQLiteCpp.h>
#include <fmt/format.h>
#include <sqlite3.h>

#include <system_error>

#include "core/base/error.hpp"
#include "core/record/archive/sync.hpp"
#include "core/record/store/sqlite_error.hpp"

namespace eyelevel::record {

namespace fs = std::filesystem;
using base::Error;
using base::ErrorCode;

namespace {

constexpr int busy_wait_ms = 5000;

void copy_pages(const fs::path& from, const fs::path& to) {
  // Read only, it would leave the files of its write-ahead log behind.
  SQLite::Database source(from.string(), SQLite::OPEN_READWRITE, busy_wait_ms);
  SQLite::Database copy(to.string(), SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE, busy_wait_ms);
  fs::permissions(to, fs::perms::owner_read | fs::perms::owner_write);
  SQLite::Backup backup(copy, source);
  // All at once is one reading transaction: whoever writes goes on, and nothing is begun anew for it.
  if (backup.executeStep(-1) != SQLITE_DONE)
    throw bad_file(from.string(), "another program kept it locked for too long", "try again");
  copy.exec("PRAGMA journal_mode=DELETE");  // one file, which is read on any medium; the next daemon sets it anew
}

}  // namespace

void require_sound(const fs::path& file) {
  try {
    SQLite::Database db(file.string(), SQLite::OPEN_READONLY, busy_wait_ms);
    const std::string found = db.execAndGet("PRAGMA quick_check").getString();
    if (found != "ok")
      throw bad_file(file.string(), "it is damaged: " + found, "take another copy of it, from an earlier day");
  } catch (const SQLite::Exception& e) {
    throw error_of(ErrorCode::bad_input, file.string(), "checking", e);
  }
}

void back_up_file(const fs::path& from, const fs::path& to) {
  if (!fs::exists(from))
    throw Error(ErrorCode::not_found, fmt::format("{}: there is no such file", from.string()), "name the right one");
  if (fs::exists(to))
    throw Error(ErrorCode::bad_input, fmt::format("{} is there already; nothing was written", to.string()),
                "name a new one");
  try {
    copy_pages(from, to);
    require_sound(to);
    sync(to);
    sync_folder_of(to);
  } catch (const SQLite::Exception& e) {
    throw error_of(ErrorCode::bad_input, from.string(), "copying to " + to.string(), e);
  } catch (const fs::filesystem_error& e) {
    throw bad_file(to.string(), "it cannot be written: " + e.code().message(), "is the disk full?");
  }
}

}  // namespace eyelevel::record
