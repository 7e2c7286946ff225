// SPDX-License-Identifier: Apache-2.0
// A thread with a loop of its own, on which a plugin is spoken to, whichever runs on whatever loops ask it: a rehearsal
// asks from many threads, each with its own simulated time, but the plugin lives on the wall clock.
#pragma once

#include <functional>
#include <memory>

#include "core/base/timeline.hpp"

namespace eyelevel::plugin {

class Worker {
 public:
  Worker();
  Worker(const Worker&) = delete;
  Worker& operator=(const Worker&) = delete;
  // Waits until what was begun has ended.
  ~Worker();

  base::Timeline& timeline();  // the wall clock; only on the worker's thread

  // Runs what `begin` makes on the worker's thread and returns on the caller's loop when it has ended; its exception is
  // rethrown. The caller's simulated time does not jump meanwhile. Cancellation of the caller reaches it and waits for
  // its end.
  task<> done(base::Timeline& caller, std::function<task<>()> begin);
  // The same from a thread that has no loop, blocking it.
  void done_blocking(std::function<task<>()> begin);

 private:
  struct Loop;
  std::unique_ptr<Loop> loop_;
};

}  // namespace eyelevel::plugin
