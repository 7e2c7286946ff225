// SPDX-License-Identifier: Apache-2.0
// Time as an argument: the only way to read a clock or to wait. WallTimeline is the real clock; SimulatedTimeline jumps
// to the next due moment whenever nothing is runnable, so forty minutes rehearse in milliseconds. Thread: a Timeline
// belongs to one io_context run by one thread; only hold() may be called from another.
#pragma once

#include <chrono>
#include <memory>

#include "core/base/task.hpp"

namespace boost::asio {
class io_context;
}

namespace eyelevel::base {

using Duration = std::chrono::nanoseconds;
using UtcTime = std::chrono::sys_time<std::chrono::milliseconds>;

// Seconds (may be fractional, must be finite) to a Duration, saturating at about 292 years; and back.
Duration from_seconds(double seconds);
double to_seconds(Duration duration);

class Timeline {
 public:
  Timeline() = default;
  Timeline(const Timeline&) = delete;
  Timeline& operator=(const Timeline&) = delete;
  virtual ~Timeline() = default;

  // Monotonic, counted from the beginning of this timeline.
  virtual Duration now() const = 0;
  // Calendar time for records. Simulated time begins at a fixed date.
  virtual UtcTime utc() const = 0;
  // Returns at `when` (at once if that is past), or throws boost::system::system_error(operation_aborted) on
  // cancellation.
  virtual task<> sleep_until(Duration when) = 0;
  task<> sleep(Duration length) { return sleep_until(now() + length); }

  // While a Hold lives, simulated time does not jump: for work under way outside the loop (store thread, plugin
  // process). No-op on the wall clock. Safe from any thread.
  class Hold {
   public:
    explicit Hold(Timeline& timeline) : timeline_(&timeline) { timeline_->hold(); }
    Hold(const Hold&) = delete;
    Hold& operator=(const Hold&) = delete;
    ~Hold() { timeline_->release(); }

   private:
    Timeline* timeline_;
  };

  // Runs the loop until `main` has ended; returns when nothing is left to run. An exception of `main` is rethrown.
  // When simulated time has nothing left to wait for and `main` still waits, throws Error(defect): nothing could wake
  // it.
  virtual void run(task<> main) = 0;

 protected:
  virtual void hold() {}
  virtual void release() {}
};

// The wall clock over the caller's loop.
std::unique_ptr<Timeline> wall_timeline(boost::asio::io_context& loop);
// Simulated time over the caller's loop, starting at 0 and at the calendar date 2030-01-07T08:00:00Z.
std::unique_ptr<Timeline> simulated_timeline(boost::asio::io_context& loop);
// The same, beginning at another date.
std::unique_ptr<Timeline> simulated_timeline(boost::asio::io_context& loop, UtcTime begin);

}  // namespace eyelevel::base
