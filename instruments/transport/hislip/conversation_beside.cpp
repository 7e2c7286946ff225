// SPDX-License-Identifier: Apache-2.0
// The asynchronous connection of a conversation: what stands beside the messages.
#include "instruments/transport/hislip/conversation.hpp"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/co_spawn.hpp>

#include <algorithm>
#include <utility>

#include "core/base/deadline.hpp"
#include "instruments/transport/detail/cancellation.hpp"

namespace eyelevel::transport::hislip {
namespace asio = boost::asio;
namespace {

constexpr std::size_t most_posted = 64;            // messages that a client does not fetch
constexpr std::uint32_t most_ids_to_come = 65536;  // a message id further ahead names nothing that was sent

}  // namespace

task<> Conversation::run_asynchronous(Self self) {
  for (;;) {
    Header header;
    if (is_over(co_await self->async_.next(header))) {
      if (!self->async_.fault().empty()) self->fatal(FatalError::bad_header, self->async_.fault());
      co_return;
    }
    if (const auto fault = fault_of(header, Connection::asynchronous, Sender::client); !fault.empty()) {
      self->fatal(FatalError::bad_header, fault);
      co_return;
    }
    if (!co_await self->take_asynchronous(header)) co_return;
  }
}

task<bool> Conversation::take_asynchronous(const Header& header) {
  if (is_refused_in_the_clear(header, async_)) co_return false;
  if (settings_.security && header.type == MessageType::async_start_tls) co_return co_await secure_asynchronous();
  if (settings_.security && header.type == MessageType::async_end_tls)
    co_return co_await unsecure_asynchronous(header.parameter);
  switch (header.type) {
    case MessageType::fatal_error: co_return false;
    case MessageType::error: break;
    case MessageType::async_maximum_message_size: co_return co_await take_maximum_size();
    case MessageType::async_device_clear: begin_clear(); break;
    case MessageType::async_lock: co_return co_await take_lock(header);
    case MessageType::async_lock_info: {
      const auto holders = static_cast<std::uint32_t>(device_->access.holders());
      post({MessageType::async_lock_info_response, device_->access.is_exclusive() ? std::uint8_t{1} : std::uint8_t{0},
            holders});
      break;
    }
    case MessageType::async_status_query: take_status_query(header); break;
    case MessageType::async_remote_local_control: take_remote_local(header); break;
    case MessageType::get_descriptors: post({MessageType::get_descriptors_response}); break;
    case MessageType::async_initialize:
      fatal(FatalError::invalid_initialisation, "the session is initialised already");
      co_return false;
    default:
      post_error(is_vendor_specific(header.type) ? NonFatalError::unknown_vendor_message : NonFatalError::unknown_type,
                 name_of(header.type) + " is not served");
  }
  co_return !ended_;
}

task<bool> Conversation::take_maximum_size() {
  std::string size;
  if (is_over(co_await async_.read_short_payload(size))) co_return false;
  const std::size_t usable = usable_payload(read_size(size), most_payload_bytes);
  if (usable == 0) {
    post_error(NonFatalError::unidentified, "nothing can be sent to who takes messages of 0 bytes only");
    co_return true;
  }
  response_limit_ = usable;
  const auto ours = encode_size(most_payload_bytes + header_bytes);
  post({MessageType::async_maximum_message_size_response}, std::string(ours.data(), ours.size()));
  co_return true;
}

void Conversation::begin_clear() {
  clearing_ = true;
  if (synchronous_runs_) stop_synchronous_.emit(asio::cancellation_type::terminal);
  // What we prefer, not all that we can: a client that has no wish of its own sends it back.
  post({MessageType::async_device_clear_acknowledge,
        settings_.prefer_overlapped ? feature_overlapped : std::uint8_t{0}});
}

void Conversation::take_status_query(const Header& header) {
  const bool delivered = (header.control & rmt_delivered) != 0;
  const bool available = exchange_.message_available(header.parameter, delivered) && !clearing_;
  service_announced_ = false;
  post({MessageType::async_status_response, device_->serial_poll(available)});
}

task<> Conversation::run_service_requests(Self self) {
  std::uint64_t seen = 0;
  for (;;) {
    seen = co_await self->device_->service_requested(seen);
    const std::uint8_t status = self->device_->status_to_announce(self->exchange_.response_waits());
    // While one is announced, the status query that must come next tells of all (6.13).
    if (self->service_announced_ || (status & 0x40U) == 0) continue;
    self->service_announced_ = true;
    self->post({MessageType::async_service_request, status});
  }
}

task<bool> Conversation::take_lock(const Header& header) {
  if (header.control > 1) {
    post_error(NonFatalError::unknown_control, "AsyncLock knows 0, release, and 1, request");
    co_return true;
  }
  std::string key;
  if (is_over(co_await async_.read_short_payload(key))) co_return false;
  if (slow_) {
    answer_lock(LockAnswer::error);  // one thing at a time (6.5)
    co_return true;
  }
  auto& access = device_->access;
  if (header.control == 0) {
    if (is_to_come(header.parameter)) {
      start_slow(release_in_order(shared_from_this(), header.parameter));
    } else {
      release();
    }
  } else if (access.holds_exclusive(holder_) || (!key.empty() && access.holds_shared(holder_))) {
    answer_lock(LockAnswer::error);
  } else if (access.take(holder_, key)) {
    answer_lock(LockAnswer::exclusive);
  } else if (header.parameter == 0) {
    answer_lock(LockAnswer::failed);
  } else {
    start_slow(lock_slowly(shared_from_this(), std::move(key), std::chrono::milliseconds(header.parameter)));
  }
  co_return true;
}

task<> Conversation::lock_slowly(Self self, std::string key, base::Duration wait) {
  const bool taken = co_await base::finished_within(self->timeline_, wait, take_the_lock(self, std::move(key)));
  self->answer_lock(taken ? LockAnswer::exclusive : LockAnswer::failed);
}

task<> Conversation::take_the_lock(Self self, std::string key) {
  while (!self->device_->access.take(self->holder_, key)) co_await self->device_->access.released.wait();
}

void Conversation::release() {
  switch (device_->access.release(holder_)) {
    case AccessLock::Released::nothing: answer_lock(LockAnswer::error); break;
    case AccessLock::Released::exclusive: answer_lock(LockAnswer::exclusive); break;
    case AccessLock::Released::shared: answer_lock(LockAnswer::shared_released); break;
  }
}

// Whether a message that a request names as the last one before it is still to be executed.
bool Conversation::is_to_come(std::uint32_t id) const {
  return is_behind(last_finished_, id) && id - last_finished_ <= most_ids_to_come;
}

task<> Conversation::release_in_order(Self self, std::uint32_t id) {
  const auto clears = self->clears_;
  while (self->is_to_come(id) && self->clears_ == clears) co_await self->progress_.wait();
  self->release();
}

void Conversation::take_remote_local(const Header& header) {
  if (slow_) {
    post_error(NonFatalError::unidentified, "another request is still under way");
  } else if (is_to_come(header.parameter)) {
    start_slow(remote_local_in_order(shared_from_this(), header.parameter, header.control));
  } else {
    switch_remote_local(header.control);
  }
}

task<> Conversation::remote_local_in_order(Self self, std::uint32_t id, std::uint8_t request) {
  const auto clears = self->clears_;
  while (self->is_to_come(id) && self->clears_ == clears) co_await self->progress_.wait();
  self->switch_remote_local(request);
}

void Conversation::switch_remote_local(std::uint8_t request) {
  const auto change = switches_.request(request);
  if (!change.known) {
    post_error(NonFatalError::unknown_control, "AsyncRemoteLocalControl knows 0 to 6");
    return;
  }
  if (change.device) device_->remote_local(*change.device);
  post({MessageType::async_remote_local_response});
}

void Conversation::start_slow(task<> work) {
  slow_ = true;
  asio::co_spawn(
      executor_, std::move(work),
      asio::bind_cancellation_slot(stop_slow_.slot(), [self = shared_from_this()](const std::exception_ptr& error) {
        self->slow_ = false;
        if (error && !detail::is_cancellation(error)) std::rethrow_exception(error);
      }));
}

// One sender for all that answer here; a client that does not fetch its answers is sent away.
void Conversation::post(Header header, std::string payload) {
  if (ended_) return;
  if (outbox_.size() >= most_posted) {
    end();
    return;
  }
  outbox_.emplace_back(header, std::move(payload));
  if (!std::exchange(posting_, true)) start_outbox();
}

void Conversation::start_outbox() {
  posting_ = true;
  asio::co_spawn(executor_, run_outbox(shared_from_this()),
                 [self = shared_from_this()](const std::exception_ptr& error) {
                   self->posting_ = false;
                   self->outbox_sent_.strike();
                   if (error && !detail::is_cancellation(error)) std::rethrow_exception(error);
                 });
}

task<> Conversation::run_outbox(Self self) {
  while (!self->outbox_.empty()) {
    const auto [header, payload] = std::move(self->outbox_.front());
    self->outbox_.pop_front();
    if (co_await self->async_.send(header, payload)) {
      self->end();
      co_return;
    }
  }
}

}  // namespace eyelevel::transport::hislip
