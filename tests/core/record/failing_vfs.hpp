// SPDX-License-Identifier: Apache-2.0
// A file system for SQLite that fails from its n-th write or sync on: the disk that is full or dies at that moment.
// Everything else goes to the default file system. One at a time may be registered; counts are of this process.
#pragma once

#include <sqlite3.h>

#include <cstring>

namespace eyelevel::test {

class FailingVfs {
 public:
  static constexpr const char* name = "failing";

  // Operation number `nth` (from 1) and all after it fail with `code`, SQLITE_FULL or SQLITE_IOERR_FSYNC.
  FailingVfs(int nth, int code) : left_(nth - 1), code_(code) {
    sqlite3_initialize();
    real_ = sqlite3_vfs_find(nullptr);
    vfs_ = *real_;
    vfs_.pNext = nullptr;
    vfs_.zName = name;
    vfs_.pAppData = this;
    vfs_.szOsFile = static_cast<int>(sizeof(File)) + real_->szOsFile;
    vfs_.xOpen = open;
    sqlite3_vfs_register(&vfs_, 0);
  }
  FailingVfs(const FailingVfs&) = delete;
  FailingVfs& operator=(const FailingVfs&) = delete;
  ~FailingVfs() { sqlite3_vfs_unregister(&vfs_); }

  bool has_failed() const { return left_ < 0; }

 private:
  struct File {
    sqlite3_file base;
    FailingVfs* owner;
    sqlite3_file* real() { return reinterpret_cast<sqlite3_file*>(this + 1); }
  };
  static File& of(sqlite3_file* f) { return *reinterpret_cast<File*>(f); }
  static sqlite3_file* real(sqlite3_file* f) { return of(f).real(); }
  static const sqlite3_io_methods& calls(sqlite3_file* f) { return *real(f)->pMethods; }

  bool fails(int code) {
    if (code != code_) return false;
    if (left_ > 0) return --left_, false;
    left_ = -1;
    return true;
  }

  static int open(sqlite3_vfs* vfs, const char* path, sqlite3_file* f, int flags, int* out) {
    auto* self = static_cast<FailingVfs*>(vfs->pAppData);
    std::memset(f, 0, static_cast<std::size_t>(vfs->szOsFile));
    const int result = self->real_->xOpen(self->real_, path, real(f), flags, out);
    if (result != SQLITE_OK) return result;
    of(f).owner = self;
    f->pMethods = methods();
    return SQLITE_OK;
  }

  static const sqlite3_io_methods* methods() {
    static const sqlite3_io_methods list = {
        2,
        [](sqlite3_file* f) { return calls(f).xClose(real(f)); },
        [](sqlite3_file* f, void* to, int n, sqlite3_int64 at) { return calls(f).xRead(real(f), to, n, at); },
        [](sqlite3_file* f, const void* from, int n, sqlite3_int64 at) {
          return of(f).owner->fails(SQLITE_FULL) ? SQLITE_FULL : calls(f).xWrite(real(f), from, n, at);
        },
        [](sqlite3_file* f, sqlite3_int64 size) { return calls(f).xTruncate(real(f), size); },
        [](sqlite3_file* f, int flags) {
          return of(f).owner->fails(SQLITE_IOERR_FSYNC) ? SQLITE_IOERR_FSYNC : calls(f).xSync(real(f), flags);
        },
        [](sqlite3_file* f, sqlite3_int64* size) { return calls(f).xFileSize(real(f), size); },
        [](sqlite3_file* f, int level) { return calls(f).xLock(real(f), level); },
        [](sqlite3_file* f, int level) { return calls(f).xUnlock(real(f), level); },
        [](sqlite3_file* f, int* out) { return calls(f).xCheckReservedLock(real(f), out); },
        [](sqlite3_file* f, int op, void* arg) { return calls(f).xFileControl(real(f), op, arg); },
        [](sqlite3_file* f) { return calls(f).xSectorSize(real(f)); },
        [](sqlite3_file* f) { return calls(f).xDeviceCharacteristics(real(f)); },
        [](sqlite3_file* f, int page, int size, int extend, void volatile** out) {
          return calls(f).xShmMap(real(f), page, size, extend, out);
        },
        [](sqlite3_file* f, int at, int n, int flags) { return calls(f).xShmLock(real(f), at, n, flags); },
        [](sqlite3_file* f) { calls(f).xShmBarrier(real(f)); },
        [](sqlite3_file* f, int remove) { return calls(f).xShmUnmap(real(f), remove); },
        nullptr,
        nullptr};
    return &list;
  }

  sqlite3_vfs* real_ = nullptr;
  sqlite3_vfs vfs_{};
  int left_;
  int code_;
};

}  // namespace eyelevel::test
