// SPDX-License-Identifier: Apache-2.0
// Status, service requests, locks, remote and local: IVI-6.1 6.5, 6.7, 6.13, 6.14.
#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <utility>

#include "instruments/transport/error.hpp"
#include "instruments/transport/hislip/client_link.hpp"

namespace eyelevel::transport::hislip {
namespace {

constexpr auto asynchronous = Connection::asynchronous;

std::string in_words(const LockHolders& holders) {
  return fmt::format("; {} client{} hold{} a lock, {}", holders.clients, holders.clients == 1 ? "" : "s",
                     holders.clients == 1 ? "s" : "", holders.exclusive ? "one of them exclusively" : "shared");
}

}  // namespace

task<std::uint8_t> HislipLink::status_byte() {
  require_open();
  doing_ = "while asking for the status byte";
  const auto stamp = exchange_.stamp_status_query();
  co_await send(asynchronous,
                {MessageType::async_status_query, stamp.rmt_delivered ? rmt_delivered : std::uint8_t{0}, stamp.id});
  const Header header = co_await next_async(MessageType::async_status_response);
  co_return header.control;
}

task<> HislipLink::wait_for_service() {
  require_open();
  doing_ = "while waiting for a service request";
  if (!std::exchange(service_asked_, false)) co_await next_async(MessageType::async_service_request);
}

task<> HislipLink::lock(std::string key, base::Duration wait) {
  require_open();
  doing_ = "while locking";
  if (key.size() > most_async_bytes)
    fail(base::ErrorCode::bad_input, text_,
         fmt::format("the key of a lock has {} bytes, at most {} are allowed", key.size(), most_async_bytes),
         "choose a shorter key");
  const auto wait_ms = std::clamp<std::int64_t>(std::chrono::ceil<std::chrono::milliseconds>(wait).count(), 0,
                                                std::numeric_limits<std::uint32_t>::max());
  lock_asked_ = true;  // if nobody waits for the answer, a lock may be ours without our knowing
  co_await send(asynchronous, {MessageType::async_lock, 1, static_cast<std::uint32_t>(wait_ms)}, key);
  const Header header = co_await next_async(MessageType::async_lock_response);
  lock_asked_ = false;
  switch (static_cast<LockAnswer>(header.control)) {
    case LockAnswer::exclusive: (key.empty() ? holds_exclusive_ : holds_shared_) = true; co_return;
    case LockAnswer::error:
      fail(base::ErrorCode::bad_input, text_, "the lock is held already, or this key cannot be used",
           "release it once for each time it was taken");
    case LockAnswer::failed: break;
    default:
      unexpected(asynchronous, header, fmt::format("AsyncLockResponse has control code {}", header.control),
                 "0 failed, 1 granted or 3 error");
  }
  fail(base::ErrorCode::no_connection, text_,
       fmt::format("someone else has locked the instrument, for longer than {:.2f} s{}", base::to_seconds(wait),
                   in_words(co_await who_locks())),
       "release it there, or wait longer");
}

// Lock information, 6.6: answered whoever holds the lock.
task<LockHolders> HislipLink::who_locks() {
  co_await send(asynchronous, {MessageType::async_lock_info});
  const Header info = co_await next_async(MessageType::async_lock_info_response);
  co_return LockHolders{info.parameter, info.control != 0};
}

// The messages of a client that is locked out lie unread (2.6.1), and nothing but this tells it why.
task<std::string> HislipLink::why_silent() {
  if (!sync_.is_open() || !async_.is_open() || async_.unsent() > 0 || lock_asked_) co_return std::string();
  doing_ = "while asking who has locked the instrument";
  LockHolders holders;
  try {
    holders = co_await who_locks();
  } catch (const TransportError&) {
    co_return std::string();  // the time-out is the news, and the next message finds out about the connection
  }
  const bool locked_out = holders.exclusive ? !holds_exclusive_ : holders.clients > 0 && !holds_shared_;
  if (!locked_out) co_return std::string();
  co_return "someone else has locked the instrument" + in_words(holders);
}

task<> HislipLink::unlock() {
  require_open();
  doing_ = "while unlocking";
  co_await send(asynchronous, {MessageType::async_lock, 0, exchange_.last_sent()});
  const Header header = co_await next_async(MessageType::async_lock_response);
  const auto answer = static_cast<LockAnswer>(header.control);
  if (answer == LockAnswer::exclusive || answer == LockAnswer::shared_released) {
    (answer == LockAnswer::exclusive ? holds_exclusive_ : holds_shared_) = false;
    co_return;
  }
  if (answer != LockAnswer::error)
    unexpected(asynchronous, header, fmt::format("AsyncLockResponse has control code {}", header.control),
               "1 or 2 released, or 3 error");
  fail(base::ErrorCode::bad_input, text_, "no lock is held", "lock first");
}

task<> HislipLink::remote_local(RemoteLocal what) {
  require_open();
  doing_ = "while switching between remote and local";
  co_await send(asynchronous, {MessageType::async_remote_local_control, request_code(what), exchange_.last_sent()});
  co_await next_async(MessageType::async_remote_local_response);
}

}  // namespace eyelevel::transport::hislip
