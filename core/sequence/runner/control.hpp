// SPDX-License-Identifier: Apache-2.0
// What somebody asks of a run under way beside stopping it at once: to pause before its next step, to go on, to stop
// after the step that it is at. Closing is never held up. It is also told where the run is. Used on the loop's thread.
#pragma once

#include <functional>
#include <utility>

#include "core/base/gong.hpp"
#include "core/event/event.hpp"

namespace eyelevel::sequence {

class RunControl {
 public:
  // What somebody who watches is told at once, before it is in the record: a glance, which nothing may hang on.
  struct Watch {
    std::function<void(const event::Place&)> at_step = {};        // each step that the run comes to
    std::function<void(const event::Captured&)> at_capture = {};  // each waveform
  };
  RunControl() = default;
  explicit RunControl(Watch watch) : watch_(std::move(watch)) {}

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
  void come_to(const event::Place& place) const {
    if (watch_.at_step) watch_.at_step(place);
  }
  void glance(const event::Captured& captured) const {
    if (watch_.at_capture) watch_.at_capture(captured);
  }
  // Until it was paused no more, or stopped.
  task<> changed() { return changed_.wait(); }

 private:
  Watch watch_;
  bool is_paused_ = false;
  bool stops_ = false;
  base::Gong changed_;
};

}  // namespace eyelevel::sequence
