// SPDX-License-Identifier: Apache-2.0
// What a running daemon leaves behind for the command line on the same machine: where it is, and whose instruments it
// owns. A file that is locked for as long as the daemon lives, so that the note of one that was killed is known for
// what it is. Under systemd in $RUNTIME_DIRECTORY, which the unit makes /run/eyelevel; else in daemons/ of the usual
// state folder. No secrets: everybody may read it.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "core/bench/bench_file.hpp"

namespace eyelevel::program {

struct NotedBench {
  std::string name;
  std::vector<std::string> resources;  // canonical resource names of its instruments
};

struct DaemonNote {
  std::string url;
  std::string fingerprint;  // of its certificate; empty: http
  std::string sequences;    // its folders, absolute
  std::string models;
  bool is_simulated = false;  // it touches no instrument
  std::vector<NotedBench> benches;
};

NotedBench noted(const bench::BenchFile& bench);

// The note of this process. There is none where it cannot be written, which is told on standard error: a daemon serves
// without.
class OwnDaemonNote {
 public:
  OwnDaemonNote() = default;
  OwnDaemonNote(const OwnDaemonNote&) = delete;
  OwnDaemonNote& operator=(const OwnDaemonNote&) = delete;
  ~OwnDaemonNote();

  // Puts it in place of the one before.
  void put(const DaemonNote& note);

 private:
  std::filesystem::path path_;
  int file_ = -1;
};

// Of every daemon that runs on this machine and that this user can see. Notes that the dead have left are taken away
// where that is allowed.
std::vector<DaemonNote> running_daemons();

}  // namespace eyelevel::program
