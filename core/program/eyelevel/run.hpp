// SPDX-License-Identifier: Apache-2.0
// What `eyelevel run` was told, and the run at a daemon.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/bench/bench_file.hpp"
#include "core/program/daemon_client/place.hpp"

namespace eyelevel::program {

struct RunOptions {
  std::string sequence;
  std::string bench;  // a file; with --daemon, the name of one of its benches
  std::string model;
  std::string serial;
  std::string resume;
  std::string answers;
  std::string by;  // who is at the bench; may be empty
  std::string store;
  std::vector<std::string> set;
  std::vector<std::string> plugins;
  DaemonOptions daemon;
  bool alone = false;
  bool as_json = false;
};

// By the daemon that --daemon names. Answers the exit status.
int run_at_daemon(const RunOptions& options);

// By a daemon on this machine, if one owns an instrument of that bench, which is then the bench that is used; says so
// on standard error. Empty: none does.
std::optional<int> run_at_owner(const RunOptions& options, const bench::BenchFile& bench);

}  // namespace eyelevel::program
