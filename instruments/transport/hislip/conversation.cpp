// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/hislip/conversation.hpp"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/co_spawn.hpp>

#include <algorithm>

#include "core/base/deadline.hpp"
#include "instruments/transport/detail/cancellation.hpp"
#include "instruments/transport/socket/codec.hpp"

namespace eyelevel::transport::hislip {
namespace asio = boost::asio;
namespace {

constexpr std::size_t most_posted = 64;            // messages that a client does not fetch
constexpr std::uint32_t most_ids_to_come = 65536;  // a message id further ahead names nothing that was sent

bool is_message(MessageType type) {
  return type == MessageType::data || type == MessageType::data_end || type == MessageType::trigger;
}

// A cancelled wait is no end of the connection.
bool is_over(const Channel::ErrorCode& error) {
  if (error == asio::error::operation_aborted) throw boost::system::system_error(error);
  return static_cast<bool>(error);
}

}  // namespace

Conversation::Conversation(base::Timeline& timeline, std::shared_ptr<Device> device, Settings settings,
                           Channel synchronous, std::function<void()> on_end)
    : executor_(synchronous.socket().get_executor()),
      timeline_(timeline),
      device_(std::move(device)),
      settings_(settings),
      sync_(std::move(synchronous)),
      async_(executor_),
      on_end_(std::move(on_end)),
      holder_(device_->access.new_holder()),
      exchange_(settings.prefer_overlapped ? Mode::overlapped : Mode::synchronised) {}

void Conversation::start() { start_synchronous(); }

void Conversation::start_synchronous() {
  synchronous_runs_ = true;
  asio::co_spawn(executor_, run_synchronous(shared_from_this()),
                 asio::bind_cancellation_slot(stop_synchronous_.slot(),
                                              [self = shared_from_this()](const std::exception_ptr& error) {
                                                self->synchronous_runs_ = false;
                                                self->synchronous_ended(error);
                                              }));
}

void Conversation::synchronous_ended(const std::exception_ptr& error) {
  const bool defect = error && !detail::is_cancellation(error);
  if (!ended_ && clearing_ && error && !defect) {
    start_synchronous();  // it was cancelled for a device clear
    return;
  }
  end();
  // Anything but an end by cancellation is a defect of the device: it ends the loop's run() loudly.
  if (defect) std::rethrow_exception(error);
}

void Conversation::attach(Channel asynchronous) {
  async_ = std::move(asynchronous);
  attached_ = true;
  const auto ends = [self = shared_from_this()](const std::exception_ptr& error) {
    self->end();
    if (error && !detail::is_cancellation(error)) std::rethrow_exception(error);
  };
  asio::co_spawn(executor_, run_asynchronous(shared_from_this()), ends);
  service_requests_run_ = true;
  asio::co_spawn(executor_, run_service_requests(shared_from_this()),
                 asio::bind_cancellation_slot(stop_service_requests_.slot(),
                                              [self = shared_from_this(), ends](const std::exception_ptr& error) {
                                                self->service_requests_run_ = false;
                                                ends(error);
                                              }));
}

void Conversation::fatal(FatalError code, std::string_view text) {
  const Header header{MessageType::fatal_error, static_cast<std::uint8_t>(code)};
  sync_.send_last(header, text);
  async_.send_last(header, text);
  end();
}

void Conversation::end() noexcept {
  if (ended_) return;
  ended_ = true;
  sync_.close();
  async_.close();
  if (synchronous_runs_) stop_synchronous_.emit(asio::cancellation_type::terminal);
  if (service_requests_run_) stop_service_requests_.emit(asio::cancellation_type::terminal);
  if (slow_) stop_slow_.emit(asio::cancellation_type::terminal);
  device_->access.forget(holder_);
  on_end_();
}

// The synchronous connection -----------------------------------------------------------------------------------------

task<> Conversation::run_synchronous(Self self) {
  if (self->clearing_ && !co_await self->finish_clear()) co_return;
  for (;;) {
    Header header;
    if (!co_await self->next_synchronous(header)) co_return;
    if (!co_await self->take_synchronous(header)) co_return;
  }
}

task<bool> Conversation::next_synchronous(Header& header) {
  if (is_over(co_await sync_.next(header))) {
    if (!sync_.fault().empty()) fatal(FatalError::bad_header, sync_.fault());
    co_return false;
  }
  if (const auto fault = fault_of(header, Connection::synchronous, Sender::client); !fault.empty()) {
    fatal(FatalError::bad_header, fault);
    co_return false;
  }
  co_return true;
}

task<bool> Conversation::take_synchronous(const Header& header) {
  if (header.type == MessageType::fatal_error) co_return false;
  if (!attached_) {
    fatal(FatalError::not_both_channels, "AsyncInitialize is still to come");
    co_return false;
  }
  if (is_message(header.type)) co_await wait_for_access();
  switch (header.type) {
    case MessageType::data:
    case MessageType::data_end: co_return co_await take_data(header);
    case MessageType::trigger:
      if (exchange_.on_message(header.parameter, (header.control & rmt_delivered) != 0)) device_->query_error(-410);
      co_await device_->trigger();
      finished(header.parameter);
      co_return true;
    case MessageType::error: co_return true;
    case MessageType::get_descriptors:
      co_return !is_over(
          co_await sync_.send({MessageType::get_descriptors_response}, {}, {}, Channel::Cancellable::no));
    case MessageType::initialize:
      fatal(FatalError::invalid_initialisation, "the session is initialised already");
      co_return false;
    case MessageType::device_clear_complete:
      co_return co_await complain(NonFatalError::unidentified, "no device clear is under way");
    default:
      co_return co_await complain(
          is_vendor_specific(header.type) ? NonFatalError::unknown_vendor_message : NonFatalError::unknown_type,
          name_of(header.type) + " is not served");
  }
}

// Messages of a client that is locked out stay where they are.
task<> Conversation::wait_for_access() {
  while (!device_->access.may_use(holder_)) co_await device_->access.released.wait();
}

task<bool> Conversation::take_data(const Header& header) {
  const std::uint32_t id = header.parameter;
  if (exchange_.on_message(id, (header.control & rmt_delivered) != 0)) device_->query_error(-410);
  const std::size_t room = settings_.most_message_bytes - std::min(settings_.most_message_bytes, message_.size());
  if (header.payload_bytes > most_payload_bytes + header_bytes || header.payload_bytes > room) {
    discarding_ = true;
    message_.clear();
    if (!co_await complain(NonFatalError::message_too_large, "this message is not executed")) co_return false;
  } else if ((header.control & ~rmt_delivered) != 0) {
    discarding_ = true;
    message_.clear();
    if (!co_await complain(NonFatalError::unknown_control, "this message is not executed")) co_return false;
  }
  if (!discarding_) {
    std::size_t have = message_.size();
    const auto count = static_cast<std::size_t>(header.payload_bytes);
    message_.resize(have + count);
    if (is_over(co_await sync_.read_payload(message_, have, count))) co_return false;
  }
  if (header.type == MessageType::data) {
    finished(id);
    co_return true;
  }
  const bool refused = std::exchange(discarding_, false);
  const bool goes_on = refused || co_await execute(id);
  message_.clear();
  finished(id);
  co_return goes_on;
}

// NL ends a message too (IEEE 488.2, 7.5), so that there may be several before END; blocks are taken by their length.
task<bool> Conversation::execute(std::uint32_t id) {
  std::string_view rest = message_;
  while (!rest.empty()) {
    socket::Framer framer(socket::Direction::program, settings_.most_message_bytes);
    const auto found = framer.scan(rest);
    const auto one = found.complete ? rest.substr(0, found.message_bytes) : rest;
    rest.remove_prefix(found.complete ? found.consumed : rest.size());
    if (one.empty()) continue;
    reply_.reset();
    co_await device_->execute(one, reply_);
    const bool says_something = !reply_.bytes.empty() || reply_.close_after;
    if (says_something && !co_await respond(id, !rest.empty())) co_return false;
  }
  co_return true;
}

// At the end of a response (3.1.2): if input waits already, the client did not want it.
task<bool> Conversation::respond(std::uint32_t id, bool more_to_execute) {
  if (exchange_.is_interrupted_by_waiting()) {
    Header waiting;
    const bool interrupted = sync_.peek(waiting) && is_message(waiting.type);
    if (interrupted || more_to_execute) device_->query_error(-410);
    if (interrupted) {
      post({MessageType::async_interrupted, 0, waiting.parameter});
      const Header told{MessageType::interrupted, 0, waiting.parameter};
      co_return !is_over(co_await sync_.send(told, {}, {}, Channel::Cancellable::no));
    }
    if (more_to_execute) co_return true;
  }
  co_return co_await send_response(id);
}

// A response once begun is not cut by a device clear: its message must be whole before another one can be sent.
task<bool> Conversation::send_response(std::uint32_t id) {
  const bool ends = reply_.terminated;
  const std::size_t limit = reply_.pace ? 1 : response_limit_;
  std::string_view rest = reply_.bytes;
  bool first = true;
  for (bool last = false; !last; first = false) {
    if (rest.empty() && reply_.endless) rest = reply_.bytes;
    if (reply_.pace) co_await reply_.pace();
    const auto part = rest.substr(0, limit);
    rest.remove_prefix(part.size());
    last = rest.empty() && (part.size() < limit || !ends) && !reply_.endless;  // NL may need a message of its own
    if (part.empty() && !ends) break;
    Header header{last && ends ? MessageType::data_end : MessageType::data, 0, exchange_.response_id(id)};
    exchange_.response_begins(header.parameter);
    if (reply_.wrong_id) header.parameter += 2;
    if (reply_.wrong_type) header.type = MessageType::trigger;
    if (first) device_->answer_waits();
    if (last && ends) exchange_.response_ends();
    if (is_over(co_await sync_.send(header, part, last && ends ? "\n" : "", Channel::Cancellable::no))) co_return false;
  }
  co_return !reply_.close_after;
}

task<bool> Conversation::complain(NonFatalError code, std::string_view text) {
  const Header header{MessageType::error, static_cast<std::uint8_t>(code)};
  co_return !is_over(co_await sync_.send(header, text, {}, Channel::Cancellable::no));
}

void Conversation::finished(std::uint32_t id) {
  last_finished_ = id;
  progress_.strike();
}

// Device clear from where the asynchronous connection has acknowledged it (6.12).
task<bool> Conversation::finish_clear() {
  device_->clear();
  message_.clear();
  discarding_ = false;
  Header header;
  do {
    if (!co_await next_synchronous(header)) co_return false;
    if (header.type == MessageType::fatal_error) co_return false;
  } while (header.type != MessageType::device_clear_complete);
  const bool overlapped = (header.control & feature_overlapped) != 0;
  exchange_ = ServerExchange(overlapped ? Mode::overlapped : Mode::synchronised);
  ++clears_;
  finished(before_first_id);
  clearing_ = false;
  const Header told{MessageType::device_clear_acknowledge, overlapped ? feature_overlapped : std::uint8_t{0}};
  co_return !is_over(co_await sync_.send(told, {}, {}, Channel::Cancellable::no));
}

// The asynchronous connection ----------------------------------------------------------------------------------------

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
  if (std::exchange(posting_, true)) return;
  asio::co_spawn(executor_, run_outbox(shared_from_this()),
                 [self = shared_from_this()](const std::exception_ptr& error) {
                   self->posting_ = false;
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
