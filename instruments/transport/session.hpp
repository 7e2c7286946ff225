// SPDX-License-Identifier: Apache-2.0
// A link with a deadline for every operation and a memory for dirt: after a time-out the link is cleared before the
// next message, so that a late answer is never taken for the next one. One owner, one operation at a time (asserted).
#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <utility>

#include "core/base/timeline.hpp"
#include "instruments/transport/link.hpp"

namespace eyelevel::transport {

class Session {
 public:
  Session(base::Timeline& timeline, std::unique_ptr<Link> link);
  ~Session();

  const std::string& resource_name() const { return link_->resource_name(); }
  // Throw Error(time_out) with sent, received, elapsed; or what the link throws.
  task<> write(std::string_view message, base::Duration within);
  // An answer of more than `most` bytes is Error(bad_answer).
  task<> query(std::string_view message, Buffer& answer, base::Duration within, std::size_t most = most_response_bytes);
  task<std::string> query(std::string_view message, base::Duration within, std::size_t most = most_response_bytes);
  // What link.hpp says of them, each with a deadline.
  task<> trigger(base::Duration within);
  task<std::uint8_t> status_byte(base::Duration within);
  task<bool> wait_for_service(base::Duration within);   // false: no request came
  task<> lock(std::string key, base::Duration within);  // `within` is the wait for others
  task<> unlock(base::Duration within);
  task<> remote_local(RemoteLocal what, base::Duration within);
  void on_progress(Progress told) { link_->on_progress(std::move(told)); }
  bool dirty() const { return dirty_; }
  void close() noexcept;

 private:
  task<> clean_up(base::Duration within);
  task<> run(task<> work, std::string_view message, const Buffer* answer, base::Duration within);

  task<bool> in_time(task<> work, base::Duration due);

  struct Watch;  // the alarm, shared with the coroutine that sleeps until it

  base::Timeline& timeline_;
  std::shared_ptr<Watch> watch_;
  std::unique_ptr<Link> link_;
  bool dirty_ = false;
  bool busy_ = false;
};

}  // namespace eyelevel::transport
