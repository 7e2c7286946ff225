// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/usbtmc/server.hpp"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/error.hpp>
#include <boost/system/system_error.hpp>

#include <algorithm>
#include <deque>
#include <utility>

#include "instruments/transport/detail/bell.hpp"
#include "instruments/transport/detail/cancellation.hpp"

namespace eyelevel::transport::usbtmc {
namespace asio = boost::asio;
namespace {

constexpr int interrupted = -410;
constexpr int unterminated = -420;

struct Program {
  bool is_trigger = false;
  std::string message;
};

// What one clear ends: messages that wait and the one that is executed.
struct Execution {
  explicit Execution(const asio::any_io_executor& executor) : bell(executor) {}
  std::deque<Program> waiting;
  bool busy = false;
  detail::Bell bell;
  asio::cancellation_signal stop;
};

// Anything but an end by cancellation is a defect of the device: it ends the loop's run() loudly.
void end_loudly(const std::exception_ptr& error) {
  if (error && !detail::is_cancellation(error)) std::rethrow_exception(error);
}

}  // namespace

struct UsbtmcServer::State : std::enable_shared_from_this<UsbtmcServer::State> {
  State(asio::any_io_executor loop, std::shared_ptr<Device> served, ServerOptions wanted)
      : executor(std::move(loop)), device(std::move(served)), options(std::move(wanted)) {}

  asio::any_io_executor executor;
  std::shared_ptr<Device> device;
  ServerOptions options;
  Misbehaviour misbehaviour;
  base::Gong changed;
  bool gone = false;

  std::shared_ptr<Execution> execution;
  asio::cancellation_signal stop_watching;

  std::string incoming;  // a program message until its EOM
  bool out_halted = false;
  std::optional<std::uint8_t> stuck_out_tag;  // of a Bulk-OUT transfer that was begun and not taken
  Reply reply;                                // what waits to be read
  bool reply_waits = false;
  std::size_t reply_sent = 0;
  std::optional<Asked> asked;  // the open Bulk-IN transfer
  std::deque<InTransfer> in_queue;
  bool in_halted = false;
  std::uint32_t in_sent = 0;  // NBYTES_TXD
  std::deque<std::string> interrupt_queue;
  bool status_answer_waits = false;

  enum class Split { none, abort_out, abort_in, clear };
  Split split = Split::none;
  bool is_remote = false;

  void begin();
  void end_execution();
  void drop_all();
  void unplug();
  static task<> converse(std::shared_ptr<State> self, std::shared_ptr<Execution> execution);
  static task<> watch_requests(std::shared_ptr<State> self);

  Handshake bulk_out(std::string_view transfer);
  void take_message(std::string_view data, bool end_of_message);
  void take_request(const Asked& request);
  bool is_idle() const { return execution->waiting.empty() && !execution->busy && incoming.empty(); }
  void execute(Program program);
  void answer();
  Taken bulk_in(std::span<char> into);
  void transfer_sent();
  void interrupt(std::string packet);

  ControlReply control(const Setup& setup);
  std::optional<Answer> answer_of(Request request, const Setup& setup);
  Answer initiate_abort_out(std::uint8_t tag);
  Answer initiate_abort_in(std::uint8_t tag);
  Answer initiate_clear();
  Answer read_status(std::uint8_t tag);
  void remote(RemoteLocal what);
};

// --- executing ---

void UsbtmcServer::State::begin() {
  execution = std::make_shared<Execution>(executor);
  asio::co_spawn(executor, converse(shared_from_this(), execution),
                 asio::bind_cancellation_slot(execution->stop.slot(),
                                              [kept = execution](const std::exception_ptr& e) { end_loudly(e); }));
}

void UsbtmcServer::State::end_execution() {
  const auto ended = execution;
  ended->stop.emit(asio::cancellation_type::terminal);
}

task<> UsbtmcServer::State::converse(std::shared_ptr<State> self, std::shared_ptr<Execution> execution) {
  Reply made;
  for (;;) {
    if (execution->waiting.empty()) {
      co_await execution->bell.wait();
      continue;
    }
    const Program program = std::move(execution->waiting.front());
    execution->waiting.pop_front();
    execution->busy = true;
    made.reset();
    if (program.is_trigger)
      co_await self->device->trigger();
    else
      co_await self->device->execute(program.message, made);
    if (self->execution != execution) co_return;  // cleared meanwhile
    execution->busy = false;
    const bool drop = !made.bytes.empty() && !execution->waiting.empty();
    if (drop) self->device->query_error(interrupted);
    if (made.bytes.empty() && made.close_after) self->unplug();
    if (made.bytes.empty() || drop) continue;
    std::swap(self->reply, made);
    if (self->reply.terminated) self->reply.bytes += '\n';
    self->reply_waits = true;
    self->reply_sent = 0;
    self->device->answer_waits();
    self->answer();
  }
}

task<> UsbtmcServer::State::watch_requests(std::shared_ptr<State> self) {
  std::uint64_t seen = 0;
  for (;;) {
    seen = co_await self->device->service_requested(seen);
    self->interrupt(service_request_packet(self->device->serial_poll(self->reply_waits)));
  }
}

void UsbtmcServer::State::execute(Program program) {
  execution->waiting.push_back(std::move(program));
  execution->bell.ring();
}

void UsbtmcServer::State::drop_all() {
  incoming.clear();
  stuck_out_tag.reset();
  reply.reset();
  reply_waits = false;
  asked.reset();
  in_queue.clear();
  split = Split::none;
}

void UsbtmcServer::State::unplug() {
  gone = true;
  drop_all();
  end_execution();
  stop_watching.emit(asio::cancellation_type::terminal);
  changed.strike();
}

// --- bulk transfers ---

Handshake UsbtmcServer::State::bulk_out(std::string_view transfer) {
  if (out_halted) return Handshake::stall;
  const auto header = read_header(transfer);
  if (misbehaviour.bulk_out) {
    if (const auto instead = misbehaviour.bulk_out(transfer)) {
      out_halted = *instead == Handshake::stall;
      if (*instead == Handshake::nak && header) stuck_out_tag = header->tag;
      return *instead;
    }
  }
  if (!fault_of_out_transfer(transfer).empty() || !header) {
    out_halted = true;
    return Handshake::stall;
  }
  stuck_out_tag.reset();
  switch (static_cast<MsgId>(header->msg_id)) {
    case MsgId::request_dev_dep_msg_in: take_request({header->tag, header->transfer_size}); break;
    case MsgId::trigger: execute({.is_trigger = true, .message = {}}); break;
    case MsgId::dev_dep_msg_out:
      if (incoming.size() + header->transfer_size > options.most_message_bytes) {
        out_halted = true;
        return Handshake::stall;
      }
      take_message(transfer.substr(header_bytes, header->transfer_size), (header->attributes & eom_bit) != 0);
      break;
    case MsgId::vendor_specific_out:
    case MsgId::request_vendor_specific_in: break;  // refused above
  }
  return Handshake::ack;
}

void UsbtmcServer::State::take_message(std::string_view data, bool end_of_message) {
  if (asked) {  // USB488 3.2: a message while an answer is being read
    device->query_error(unterminated);
    asked.reset();
    in_queue.clear();
  }
  if (reply_waits) {
    device->query_error(interrupted);
    reply_waits = false;
  }
  incoming += data;
  if (!end_of_message) return;
  if (incoming.ends_with('\n')) incoming.pop_back();
  execute({.is_trigger = false, .message = std::exchange(incoming, {})});
}

void UsbtmcServer::State::take_request(const Asked& request) {
  if (asked) {  // USBTMC Table 12: a second request while one is open
    in_halted = true;
    changed.strike();
    return;
  }
  asked = request;
  in_sent = 0;
  if (is_idle() && !reply_waits) device->query_error(unterminated);
  answer();
}

// Sends the next piece when there is one and it was asked for.
void UsbtmcServer::State::answer() {
  if (!asked || !reply_waits || !in_queue.empty() || reply_sent == reply.bytes.size()) return;
  const std::size_t rest = reply.bytes.size() - reply_sent;
  const std::size_t count = std::min({rest, std::size_t{asked->most_bytes}, std::size_t{options.most_in_bytes}});
  const bool end = count == rest && reply.terminated;
  InTransfer transfer;
  transfer.bytes.reserve(header_bytes + count);
  append_message_in_header(transfer.bytes, asked->tag, static_cast<std::uint32_t>(count), end ? eom_bit : 0);
  transfer.bytes.append(reply.bytes, reply_sent, count);
  reply_sent += count;
  if (end) reply_waits = false;
  if (misbehaviour.in_transfer) misbehaviour.in_transfer(transfer);
  in_queue.push_back(std::move(transfer));
  changed.strike();
}

void UsbtmcServer::State::transfer_sent() {
  in_queue.pop_front();
  if (!in_queue.empty()) return;
  asked.reset();
  if (reply.close_after && reply_sent == reply.bytes.size() && reply_waits) unplug();
}

UsbtmcServer::Taken UsbtmcServer::State::bulk_in(std::span<char> into) {
  Taken taken;
  if (misbehaviour.halts_bulk_in && misbehaviour.halts_bulk_in()) in_halted = true;
  if (in_halted) return {0, Handshake::stall};
  while (!in_queue.empty()) {
    InTransfer& transfer = in_queue.front();
    const bool at_cut = !transfer.short_at.empty();
    const std::size_t end = at_cut ? std::min(transfer.short_at.front(), transfer.bytes.size()) : transfer.bytes.size();
    const std::size_t count = std::min(into.size() - taken.bytes, end - transfer.sent);
    transfer.bytes.copy(into.data() + taken.bytes, count, transfer.sent);
    transfer.sent += count;
    taken.bytes += count;
    in_sent += static_cast<std::uint32_t>(count);
    const bool is_full = taken.bytes == into.size();
    const bool fills_packets = (end - transfer.packet_begin) % options.endpoints.bulk_in_packet_bytes == 0;
    const bool ends_short = at_cut || transfer.ends_short;
    // An empty packet that ends the transfer does not go into a read that is full: the next one gets it.
    if (transfer.sent < end || (is_full && fills_packets && ends_short)) {
      taken.handshake = Handshake::ack;
      return taken;
    }
    if (at_cut) {
      transfer.packet_begin = end;
      transfer.short_at.erase(transfer.short_at.begin());
    } else {
      transfer_sent();
    }
    if (ends_short || !fills_packets || is_full) {
      taken.handshake = Handshake::ack;
      return taken;
    }
  }
  return taken;
}

void UsbtmcServer::State::interrupt(std::string packet) {
  if (misbehaviour.interrupt_packet) misbehaviour.interrupt_packet(packet);
  if (packet.empty() || options.endpoints.interrupt_in == 0) return;
  interrupt_queue.push_back(std::move(packet));
  changed.strike();
}

// --- class requests ---

ControlReply UsbtmcServer::State::control(const Setup& setup) {
  const auto request = request_of(setup);
  if (!request) return {Handshake::stall, {}};
  if (misbehaviour.control) {
    if (auto instead = misbehaviour.control(*request, setup)) return *instead;
  }
  if (*request == Request::get_capabilities) {
    return {Handshake::ack, capabilities_answer(options.capabilities).substr(0, setup.length)};
  }
  const auto answered = answer_of(*request, setup);
  if (!answered) return {Handshake::stall, {}};
  return {Handshake::ack, answer_bytes(*request, *answered).substr(0, setup.length)};
}

// Empty: not known here, STALL.
std::optional<Answer> UsbtmcServer::State::answer_of(Request request, const Setup& setup) {
  const auto tag = static_cast<std::uint8_t>(setup.value);
  const bool is_check = request == Request::check_abort_bulk_out_status ||
                        request == Request::check_abort_bulk_in_status || request == Request::check_clear_status;
  if (split != Split::none && !is_check) return Answer{.status = Status::split_in_progress};
  const auto ended = [this](Split which) {
    if (split != which) return Answer{.status = Status::split_not_in_progress};
    split = Split::none;
    return Answer{.status = Status::success, .bytes = which == Split::abort_in ? in_sent : 0};
  };
  switch (request) {
    case Request::initiate_abort_bulk_out: return initiate_abort_out(tag);
    case Request::check_abort_bulk_out_status: return ended(Split::abort_out);
    case Request::initiate_abort_bulk_in: return initiate_abort_in(tag);
    case Request::check_abort_bulk_in_status:
      if (split == Split::abort_in && !in_queue.empty())
        return Answer{.status = Status::pending, .fifo_not_empty = true};
      return ended(Split::abort_in);
    case Request::initiate_clear: return initiate_clear();
    case Request::check_clear_status: return ended(Split::clear);
    case Request::indicator_pulse:
      if (!options.capabilities.indicator_pulse) return std::nullopt;
      return Answer{.status = Status::success};
    case Request::read_status_byte:
      if (!options.endpoints.is_usb488) return std::nullopt;
      return read_status(tag);
    case Request::ren_control:
    case Request::go_to_local:
    case Request::local_lockout:
      if (!options.capabilities.remote_local) return std::nullopt;
      if (request == Request::local_lockout)
        remote(RemoteLocal::lockout);
      else
        remote(request == Request::ren_control && setup.value == 1 ? RemoteLocal::remote : RemoteLocal::local);
      return Answer{.status = Status::success};
    case Request::get_capabilities: break;  // not of this form
  }
  return std::nullopt;
}

Answer UsbtmcServer::State::initiate_abort_out(std::uint8_t tag) {
  if (!stuck_out_tag) return {.status = Status::failed, .tag = tag};
  if (*stuck_out_tag != tag) return {.status = Status::transfer_not_in_progress, .tag = *stuck_out_tag};
  stuck_out_tag.reset();
  incoming.clear();
  out_halted = true;  // until CLEAR_FEATURE (USBTMC 4.2.1.3)
  split = Split::abort_out;
  return {.status = Status::success, .tag = tag};
}

// The transfer ends with a short packet that the computer must fetch.
Answer UsbtmcServer::State::initiate_abort_in(std::uint8_t tag) {
  if (!asked) return {.status = Status::failed, .tag = tag};
  if (asked->tag != tag) return {.status = Status::transfer_not_in_progress, .tag = asked->tag};
  in_queue.clear();
  in_queue.emplace_back();
  split = Split::abort_in;
  changed.strike();
  return {.status = Status::success, .tag = tag};
}

Answer UsbtmcServer::State::initiate_clear() {
  drop_all();
  end_execution();
  device->clear();
  begin();
  out_halted = true;  // until CLEAR_FEATURE (USBTMC 4.2.1.6)
  split = Split::clear;
  changed.strike();
  return {.status = Status::success};
}

Answer UsbtmcServer::State::read_status(std::uint8_t tag) {
  if (tag < 2 || tag > 127) return {.status = Status::failed, .tag = tag};
  if (options.endpoints.interrupt_in == 0)
    return {.status = Status::success, .tag = tag, .status_byte = device->serial_poll(reply_waits)};
  if (status_answer_waits) return {.status = Status::interrupt_in_busy, .tag = tag};
  status_answer_waits = true;
  interrupt(status_answer_packet(tag, device->serial_poll(reply_waits)));
  return {.status = Status::success, .tag = tag};
}

// Told to the device when it changes (USB488 3.3.1); REN is asserted again by every program that opens.
void UsbtmcServer::State::remote(RemoteLocal what) {
  if (what == RemoteLocal::remote && is_remote) return;
  is_remote = what != RemoteLocal::local;
  device->remote_local(what);
}

// --- the server ---

UsbtmcServer::UsbtmcServer(const asio::any_io_executor& executor, std::shared_ptr<Device> device, ServerOptions options)
    : state_(std::make_shared<State>(executor, std::move(device), std::move(options))) {
  state_->begin();
  asio::co_spawn(executor, State::watch_requests(state_),
                 asio::bind_cancellation_slot(state_->stop_watching.slot(),
                                              [kept = state_](const std::exception_ptr& e) { end_loudly(e); }));
}

UsbtmcServer::~UsbtmcServer() { state_->unplug(); }

const Endpoints& UsbtmcServer::endpoints() const { return state_->options.endpoints; }
Misbehaviour& UsbtmcServer::misbehaviour() { return state_->misbehaviour; }
base::Gong& UsbtmcServer::changed() { return state_->changed; }
Handshake UsbtmcServer::bulk_out(std::string_view transfer) { return state_->bulk_out(transfer); }
UsbtmcServer::Taken UsbtmcServer::bulk_in(std::span<char> into) { return state_->bulk_in(into); }
ControlReply UsbtmcServer::control(const Setup& setup) { return state_->control(setup); }
void UsbtmcServer::unplug() { state_->unplug(); }
bool UsbtmcServer::is_gone() const { return state_->gone; }

std::optional<std::string> UsbtmcServer::interrupt_in() {
  auto& queue = state_->interrupt_queue;
  if (queue.empty()) return std::nullopt;
  auto packet = std::move(queue.front());
  queue.pop_front();
  if (read_interrupt(packet).kind == InterruptPacket::Kind::status_answer) state_->status_answer_waits = false;
  return packet;
}

Trouble UsbtmcServer::clear_halt(std::uint8_t endpoint) {
  if (state_->misbehaviour.clear_halt) {
    const auto trouble = state_->misbehaviour.clear_halt();
    if (trouble != Trouble::none) return trouble;
  }
  if (endpoint == state_->options.endpoints.bulk_out) state_->out_halted = false;
  if (endpoint == state_->options.endpoints.bulk_in) {
    if (state_->in_halted) {  // USBTMC 4.1.1.2: the transfer is over
      state_->asked.reset();
      state_->in_queue.clear();
    }
    state_->in_halted = false;
  }
  state_->changed.strike();
  return Trouble::none;
}

Trouble UsbtmcServer::reset() {
  if (state_->misbehaviour.reset) {
    const auto trouble = state_->misbehaviour.reset();
    if (trouble != Trouble::none) return trouble;
  }
  state_->drop_all();
  state_->end_execution();
  state_->begin();
  state_->out_halted = false;
  state_->in_halted = false;
  state_->interrupt_queue.clear();
  state_->status_answer_waits = false;
  state_->changed.strike();
  return Trouble::none;
}

}  // namespace eyelevel::transport::usbtmc
