// SPDX-License-Identifier: Apache-2.0
// The error/event queue (SCPI-99 Vol. 2, 21.8): first in, first out; when full, the newest slot becomes -350 and later
// errors are dropped until a read frees a slot. Both sides: the instrument fills it, the client reads its answers.
#pragma once

#include <cstddef>
#include <deque>
#include <string>
#include <string_view>

namespace eyelevel::scpi {

struct QueuedError {
  int number = 0;
  std::string text = "No error";  // standard text, then ";detail" if there is one

  bool operator==(const QueuedError&) const = default;
};

class ErrorQueue {
 public:
  explicit ErrorQueue(std::size_t depth = 20);  // at least 2

  // Gives the number that was stored: -350 at the moment of overflow, 0 when dropped.
  int push(int number, std::string_view detail = {});
  QueuedError pop();  // 0,"No error" when empty
  bool empty() const { return queue_.empty(); }
  std::size_t size() const { return queue_.size(); }
  void clear() { queue_.clear(); }

 private:
  std::size_t depth_;
  std::deque<QueuedError> queue_;
};

// The answer to SYSTem:ERRor?: `-113,"Undefined header"`. Throws base::Error(bad_answer).
QueuedError parse_queued_error(std::string_view answer);

}  // namespace eyelevel::scpi
