// SPDX-License-Identifier: Apache-2.0
// The folder in which a daemon keeps what must survive it. One daemon at a time.
#pragma once

#include <filesystem>
#include <string>

namespace eyelevel::program {

class StateFolder {
 public:
  // Makes the folder when it is absent. Empty: the usual one, $XDG_STATE_HOME/eyelevel. Throws base::Error(bad_input)
  // when it cannot be used, or another daemon holds it.
  explicit StateFolder(const std::string& given);
  StateFolder(const StateFolder&) = delete;
  StateFolder& operator=(const StateFolder&) = delete;
  ~StateFolder();

  std::filesystem::path records() const { return path_ / "records.db"; }
  std::filesystem::path access() const { return path_ / "access.db"; }
  const std::filesystem::path& path() const { return path_; }
  // Runs that a shared store does not have yet.
  std::filesystem::path spool() const { return path_ / "spool.db"; }
  // By which name this daemon takes jobs from a store that others share: made once, so that it knows after a restart
  // what it had under way.
  std::string owner() const;

 private:
  std::filesystem::path path_;
  int lock_ = -1;
};

}  // namespace eyelevel::program
