// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/house.hpp"

#include <chrono>

#include "core/base/error.hpp"

namespace eyelevel::sim {

void FullStore::write(std::string_view run, std::span<const event::Event> events) {
  if (full_from_ > 0 && ++written_ >= full_from_)
    throw base::Error(base::ErrorCode::not_recording, "the disk of the record is full",
                      "make room, then start the run again");
  inner_.write(run, events);
}

base::UtcTime JumpingClock::utc() const {
  const bool jumped = how_.clock_jumps_by_s != 0 && base::to_seconds(now()) >= how_.clock_jumps_at_s;
  if (!jumped) return inner_.utc();
  return inner_.utc() + std::chrono::milliseconds(static_cast<std::int64_t>(1e3 * how_.clock_jumps_by_s));
}

void JumpingClock::hold() {
  const std::lock_guard lock(mutex_);
  if (++held_ == 1) hold_.emplace(inner_);
}

void JumpingClock::release() {
  const std::lock_guard lock(mutex_);
  if (--held_ == 0) hold_.reset();
}

}  // namespace eyelevel::sim
