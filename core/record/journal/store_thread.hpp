// SPDX-License-Identifier: Apache-2.0
// The one thread on which a file store works, so that the loop never waits for a disk. Work is done in the order in
// which it was given. Belongs to whoever opened the store; ends, after what was begun, with this object.
#pragma once

#include <functional>
#include <memory>

#include "core/base/timeline.hpp"

namespace eyelevel::record {

class StoreThread {
 public:
  StoreThread();
  StoreThread(const StoreThread&) = delete;
  StoreThread& operator=(const StoreThread&) = delete;
  ~StoreThread();

  // Does `work` on the store thread and returns on the caller's loop when it is done; its exception is rethrown.
  // Simulated time does not jump meanwhile. Cancellation does not abandon it: a commit that was begun is always
  // awaited.
  task<> done(base::Timeline& timeline, std::function<void()> work);

  // Blocks until everything given so far has left the store thread. To be called before a loop that waited for it ends
  // while the thread goes on: the last touch of a loop comes after its work was announced as done.
  void settle();

 private:
  struct Pool;
  std::unique_ptr<Pool> pool_;
};

}  // namespace eyelevel::record
