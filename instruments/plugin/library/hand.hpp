// SPDX-License-Identifier: Apache-2.0
// The thread on which a plugin's own code runs in this process. Its code cannot be stopped: whoever waits too long
// gives up, and what was begun owns all it needs and ends by itself, or never.
#pragma once

#include <functional>
#include <memory>

#include "core/base/timeline.hpp"

namespace eyelevel::plugin::library {

class Hand {
 public:
  Hand();
  Hand(const Hand&) = delete;
  Hand& operator=(const Hand&) = delete;
  // Waits for what is under way unless nobody waits for that any more.
  ~Hand();

  // Does `work` on the thread, in the order of asking. False when it has not ended within `within` of the wall clock;
  // it may still end later, so that `work` must own what it touches. The caller's simulated time does not jump
  // meanwhile. Cancellation gives up at once and throws system_error(operation_aborted).
  task<bool> done(base::Timeline& caller, base::Duration within, std::function<void()> work);
  bool done_blocking(base::Duration within, std::function<void()> work);

 private:
  struct State;
  std::shared_ptr<State> state_;
};

}  // namespace eyelevel::plugin::library
