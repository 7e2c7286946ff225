// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/hislip/conversation.hpp"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/co_spawn.hpp>

#include <algorithm>
#include <utility>

#include "instruments/transport/detail/cancellation.hpp"
#include "instruments/transport/socket/codec.hpp"

namespace eyelevel::transport::hislip {
namespace asio = boost::asio;
namespace {

bool is_message(MessageType type) {
  return type == MessageType::data || type == MessageType::data_end || type == MessageType::trigger;
}

bool is_login(MessageType type) {
  return type == MessageType::get_sasl_mechanism_list || type == MessageType::authentication_start ||
         type == MessageType::authentication_exchange;
}

}  // namespace

Conversation::Conversation(base::Timeline& timeline, std::shared_ptr<Device> device, Settings settings,
                           Channel synchronous, std::function<void()> on_end)
    : executor_(synchronous.socket().get_executor()),
      timeline_(timeline),
      device_(std::move(device)),
      settings_(std::move(settings)),
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
  if (is_refused_in_the_clear(header, sync_)) co_return false;
  if (settings_.security && is_login(header.type)) co_return co_await take_login(header);
  if (settings_.security && header.type == MessageType::start_tls) co_return co_await secure_synchronous();
  if (settings_.security && header.type == MessageType::end_tls) co_return co_await unsecure_synchronous();
  if (is_message(header.type)) {
    if (sync_.is_secure() && !logged_in_)
      co_return co_await complain(NonFatalError::authentication_failed, "log in first");
    co_await wait_for_access();
  }
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

}  // namespace eyelevel::transport::hislip
