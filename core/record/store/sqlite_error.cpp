// SPDX-License-Identifier: Apache-2.0
#include "core/record/store/sqlite_error.hpp"

#include <fmt/format.h>
#include <sqlite3.h>

#include <utility>

namespace eyelevel::record {

using base::Error;
using base::ErrorCode;
using base::ErrorRecord;

Cause cause_of(const SQLite::Exception& e) {
  switch (e.getErrorCode()) {
    case SQLITE_FULL: return {"the disk is full", "free some space, then start the run again"};
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return {"another program kept it locked for too long", "is a backup or another bench working on this file?"};
    case SQLITE_READONLY: return {"it cannot be written", "check the rights of the file and of its folder"};
    case SQLITE_CORRUPT: return {"it is damaged", "keep a copy, then restore it from the last backup"};
    case SQLITE_NOTADB: return {"it is no store of eyelevel and no SQLite file", "name another file with --store"};
    case SQLITE_CANTOPEN: return {"it cannot be opened", "does its folder exist, and may you write there?"};
    case SQLITE_IOERR:
      // Its index in shared memory could not grow: there was no room for a file beside it.
      if (e.getExtendedErrorCode() == SQLITE_IOERR_SHMSIZE || e.getExtendedErrorCode() == SQLITE_IOERR_SHMMAP)
        return {"the disk is full", "free some space, then start again"};
      return {"reading or writing it failed", "check the disk and its cable"};
    default: return {"the store refused", "please report this as a defect"};
  }
}

Error error_of(ErrorCode code, const std::string& path, const std::string& attempted, const SQLite::Exception& e) {
  const Cause cause = cause_of(e);
  ErrorRecord record;
  record.code = code;
  record.where = fmt::format("store {}", path);
  record.message = code == ErrorCode::not_recording ? "not recording: " + cause.message : cause.message;
  record.attempted = attempted;
  record.advice = cause.advice;
  record.cause = fmt::format("{} (SQLite {})", e.what(), e.getExtendedErrorCode());
  return Error(std::move(record));
}

Error bad_file(const std::string& path, std::string message, std::string advice) {
  ErrorRecord record;
  record.code = ErrorCode::bad_input;
  record.where = fmt::format("store {}", path);
  record.message = std::move(message);
  record.advice = std::move(advice);
  return Error(std::move(record));
}

}  // namespace eyelevel::record
