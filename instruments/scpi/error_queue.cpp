// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/error_queue.hpp"

#include <algorithm>

#include "instruments/scpi/error.hpp"
#include "instruments/scpi/message/response_reader.hpp"

namespace eyelevel::scpi {
namespace {
constexpr std::size_t most_text_bytes = 255;  // SCPI-99 Vol. 2, 21.8.2
}

ErrorQueue::ErrorQueue(std::size_t depth) : depth_(std::max<std::size_t>(depth, 2)) {}

int ErrorQueue::push(int number, std::string_view detail) {
  if (queue_.size() >= depth_) {
    if (queue_.back().number == -350) return 0;
    queue_.back() = {-350, std::string(standard_text(-350))};
    return -350;
  }
  std::string text(standard_text(number));
  if (!detail.empty()) {
    text += ';';
    text += detail;
  }
  if (text.size() > most_text_bytes) text.resize(most_text_bytes);
  queue_.push_back({number, std::move(text)});
  return number;
}

QueuedError ErrorQueue::pop() {
  if (queue_.empty()) return {};
  QueuedError first = std::move(queue_.front());
  queue_.pop_front();
  return first;
}

QueuedError parse_queued_error(std::string_view answer) {
  ResponseReader reader(answer);
  QueuedError error;
  error.number = static_cast<int>(reader.integer(-32768, 32767));
  error.text = reader.string();
  reader.end();
  return error;
}

}  // namespace eyelevel::scpi
