// SPDX-License-Identifier: Apache-2.0
// What somebody asks of a run under way beside stopping it at once: to pause before its next step, to go on, to stop
// after the step that it is at. Closing is never held up. Used on the loop's thread.
#pragma once

#include "core/base/gong.hpp"

namespace eyelevel::sequence {

class RunControl {
 public:
  void pause() { is_paused_ = true; }
  void go_on() {
    is_paused_ = false;
    changed_.strike();
  }
  void stop_after_step() {
    stops_ = true;
    changed_.strike();
  }

  bool is_paused() const { return is_paused_ && !stops_; }
  bool stops() const { return stops_; }
  // Until one of them was called.
  task<> changed() { return changed_.wait(); }

 private:
  bool is_paused_ = false;
  bool stops_ = false;
  base::Gong changed_;
};

}  // namespace eyelevel::sequence
