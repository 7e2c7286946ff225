// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/vxi11/core_conversation.hpp"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/buffer.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/system/system_error.hpp>

#include <algorithm>
#include <optional>

#include "core/base/deadline.hpp"
#include "instruments/transport/detail/cancellation.hpp"
#include "instruments/transport/detail/line_conversation.hpp"

namespace eyelevel::transport::vxi11 {
namespace asio = boost::asio;
namespace {

constexpr std::size_t most_read_ahead = 2;  // calls
constexpr base::Duration most_connect_back = std::chrono::seconds(5);

std::string lower(std::string text) {
  for (char& c : text)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return text;
}

template <class Ready>
task<> until(base::Gong& gong, ServedLink& link, const Ready& ready) {
  while (!link.aborted && !ready()) co_await gong.wait();
}

task<> connect_back(std::shared_ptr<RequestSender> sender, asio::ip::tcp::endpoint to, InterruptChannel call,
                    bool& connected) {
  connected = co_await sender->connect(to, call.program, call.version);
}

}  // namespace

CoreConversation::CoreConversation(asio::ip::tcp::socket socket, std::shared_ptr<Shared> shared)
    : stream_(std::move(socket), shared->listen.most_receive_bytes + most_small_bytes),
      shared_(std::move(shared)),
      inbox_bell_(shared_->executor),
      room_bell_(shared_->executor) {}

task<> CoreConversation::run(std::shared_ptr<CoreConversation> self) {
  asio::co_spawn(self->shared_->executor, answer_all(self),
                 asio::bind_cancellation_slot(self->stop_.slot(), [self](const std::exception_ptr& error) {
                   self->end();
                   if (error && !detail::is_cancellation(error)) std::rethrow_exception(error);
                 }));
  try {
    co_await self->read_ahead();
  } catch (const boost::system::system_error&) {
    self->gone_ = true;  // the client, or the server stops
  } catch (const WireFault&) {
    self->gone_ = true;  // nothing that could be answered
  }
  self->inbox_bell_.ring();
  self->stop_.emit(asio::cancellation_type::terminal);
}

task<> CoreConversation::read_ahead() {
  for (;;) {
    std::string record;
    co_await stream_.next_record();
    co_await stream_.read_rest(record);
    inbox_.push_back(std::move(record));
    inbox_bell_.ring();
    while (inbox_.size() >= most_read_ahead) co_await room_bell_.wait();
  }
}

task<> CoreConversation::answer_all(std::shared_ptr<CoreConversation> self) {
  try {
    while (!self->gone_ && !self->close_) {
      if (self->inbox_.empty()) {
        co_await self->inbox_bell_.wait();
        continue;
      }
      const std::string record = std::move(self->inbox_.front());
      self->inbox_.pop_front();
      self->room_bell_.ring();
      if (!co_await self->answer(record)) break;
    }
  } catch (const boost::system::system_error&) {
    self->gone_ = true;
  }
}

// All links, locks and channels of a connection die with it.
void CoreConversation::end() noexcept {
  stream_.close();
  for (const auto& [id, link] : links_) forget(*link);
  links_.clear();
  destroy_intr_chan();
}

void CoreConversation::forget(const ServedLink& link) noexcept {
  link.exchange->stop();
  link.device().access.forget(link.holder);
  shared_->links.erase(link.id);
}

// False: the connection is to be closed.
task<bool> CoreConversation::answer(const std::string& record) {
  const auto found = read_call(record);
  if (!found.is_call) co_return false;
  xid_ = found.call.xid;
  begin_record(reply_);
  read_link_ = nullptr;
  read_bytes_ = 0;
  if (!found.right_rpc) {
    append_denied(reply_, xid_);
  } else if (found.call.program != core_program) {
    append_reply(reply_, xid_, AcceptState::program_unavailable);
  } else if (found.call.version != program_version) {
    append_version_mismatch(reply_, xid_, program_version, program_version);
  } else {
    XdrReader arguments(found.arguments);
    co_await carry_out(static_cast<Procedure>(found.call.procedure), arguments);
  }
  static constexpr std::array<char, 4> zeros{};
  const auto data = read_link_ ? read_link_->exchange->peek(read_bytes_, std::nullopt).bytes : std::string_view();
  const std::size_t padding = padding_of(data.size());
  end_record(reply_, data.size() + padding);
  co_await stream_.write({asio::buffer(reply_), asio::buffer(data.data(), data.size()), asio::buffer(zeros, padding)});
  if (read_link_) {
    read_link_->exchange->took(data.size());
    if (read_link_->exchange->wants_close()) co_return false;
  }
  co_return true;
}

task<> CoreConversation::carry_out(Procedure procedure, XdrReader& arguments) {
  switch (procedure) {
    case Procedure::null: append_reply(reply_, xid_); break;
    case Procedure::create_link: co_await create_link(arguments); break;
    case Procedure::device_write: co_await device_write(arguments); break;
    case Procedure::device_read: co_await device_read(arguments); break;
    case Procedure::device_readstb:
    case Procedure::device_trigger:
    case Procedure::device_clear:
    case Procedure::device_remote:
    case Procedure::device_local: co_await generic(procedure, arguments); break;
    case Procedure::device_lock: co_await device_lock(arguments); break;
    case Procedure::device_unlock: device_unlock(arguments); break;
    case Procedure::device_enable_srq: device_enable_srq(arguments); break;
    case Procedure::device_docmd:
      result(DeviceError::not_supported);
      XdrWriter(reply_).opaque({});
      break;
    case Procedure::destroy_link: destroy_link(arguments); break;
    case Procedure::create_intr_chan: co_await create_intr_chan(arguments); break;
    case Procedure::destroy_intr_chan:
      result(sender_ ? DeviceError::none : DeviceError::channel_not_established);
      destroy_intr_chan();
      break;
    default: append_reply(reply_, xid_, AcceptState::procedure_unavailable);
  }
}

void CoreConversation::result(DeviceError error) {
  append_reply(reply_, xid_);
  append_error(reply_, error);
}

template <class Arguments>
bool CoreConversation::got(XdrReader& reader, Arguments& arguments) {
  read(reader, arguments);
  if (!reader.good()) append_reply(reply_, xid_, AcceptState::garbage_arguments);
  return reader.good();
}

bool CoreConversation::got_link(XdrReader& reader, std::int32_t& link) {
  link = read_link(reader);
  if (!reader.good()) append_reply(reply_, xid_, AcceptState::garbage_arguments);
  return reader.good();
}

// Links of other connections are not this client's.
CoreConversation::Link CoreConversation::find(std::int32_t id) const {
  const auto at = links_.find(id);
  return at == links_.end() ? nullptr : at->second;
}

// Waits for `ready`, for device_abort, or until the time has run out. A client that goes away cancels it.
template <class Ready>
task<DeviceError> CoreConversation::wait_until(Link link, base::Gong& gong, std::uint32_t limit_ms,
                                               DeviceError too_late, Ready ready) {
  if (ready()) co_return DeviceError::none;
  link->in_call = true;
  link->aborted = false;
  co_await base::finished_within(shared_->timeline, std::chrono::milliseconds(limit_ms), until(gong, *link, ready));
  link->in_call = false;
  if (std::exchange(link->aborted, false)) co_return DeviceError::aborted;
  co_return ready() ? DeviceError::none : too_late;
}

// Nobody else has locked the device, or did not keep the lock as long as the client waits.
task<DeviceError> CoreConversation::admitted(Link link, std::uint32_t flags, std::uint32_t lock_timeout_ms) {
  auto& access = link->device().access;
  if (access.may_use(link->holder)) co_return DeviceError::none;
  if ((flags & flag_wait_lock) == 0) co_return DeviceError::locked;
  co_return co_await wait_until(link, access.released, lock_timeout_ms, DeviceError::locked,
                                [&access, link] { return access.may_use(link->holder); });
}

task<DeviceError> CoreConversation::lock(Link link, bool wait, std::uint32_t lock_timeout_ms) {
  auto& access = link->device().access;
  if (access.holds_exclusive(link->holder)) co_return DeviceError::locked;
  if (access.take(link->holder, "")) co_return DeviceError::none;
  if (!wait) co_return DeviceError::locked;
  co_return co_await wait_until(link, access.released, lock_timeout_ms, DeviceError::locked, [&access, link] {
    return access.holds_exclusive(link->holder) || access.take(link->holder, "");
  });
}

task<> CoreConversation::create_link(XdrReader& reader) {
  CreateLink call;
  if (!got(reader, call)) co_return;
  CreatedLink created{.abort_port = shared_->abort_port, .most_receive_bytes = shared_->listen.most_receive_bytes};
  const auto device = shared_->devices.find(lower(call.device));
  if (device == shared_->devices.end()) {
    created.error = DeviceError::not_accessible;
  } else if (shared_->links.size() >= shared_->listen.most_links) {
    created.error = DeviceError::out_of_resources;
  } else {
    auto link = std::make_shared<ServedLink>();
    link->served = device->second;
    link->holder = link->device().access.new_holder();
    link->exchange =
        std::make_shared<Exchange>(shared_->executor, link->served->device, shared_->listen.most_message_bytes);
    link->sender = sender_;
    while (!link->device().greets()) co_await inbox_bell_.wait();  // until the client has gone
    if (call.lock_device) created.error = co_await lock(link, true, call.lock_timeout_ms);
    if (created.error == DeviceError::none) {
      link->id = shared_->next_link;
      shared_->next_link = shared_->next_link == INT32_MAX ? 0 : shared_->next_link + 1;
      created.link = link->id;
      shared_->links[link->id] = link;
      links_[link->id] = link;
    }
  }
  append_reply(reply_, xid_);
  append(reply_, created);
}

task<> CoreConversation::device_write(XdrReader& reader) {
  Write call;
  read(reader, call, shared_->listen.most_receive_bytes + most_small_bytes);
  if (!reader.good()) {
    append_reply(reply_, xid_, AcceptState::garbage_arguments);
    co_return;
  }
  Written written;
  const auto link = find(call.head.link);
  if (!link) {
    written.error = DeviceError::invalid_link;
  } else if (call.data.size() > shared_->listen.most_receive_bytes) {
    written.error = DeviceError::parameter;
  } else {
    written.error = co_await admitted(link, call.head.flags, call.head.lock_timeout_ms);
    auto& exchange = *link->exchange;
    if (written.error == DeviceError::none)
      written.error = co_await wait_until(link, exchange.changed, call.head.io_timeout_ms, DeviceError::io_timeout,
                                          [&exchange] { return exchange.has_room(); });
    if (written.error == DeviceError::none) {
      if (exchange.take(call.data, (call.head.flags & flag_end) != 0) == Exchange::Taken::too_long)
        written.error = DeviceError::out_of_resources;
      else
        written.bytes = static_cast<std::uint32_t>(call.data.size());
    }
  }
  append_reply(reply_, xid_);
  append(reply_, written);
}

task<> CoreConversation::device_read(XdrReader& reader) {
  Read call;
  if (!got(reader, call)) co_return;
  ReadHead head;
  const auto link = find(call.link);
  if (!link) {
    head.error = DeviceError::invalid_link;
  } else {
    head.error = co_await admitted(link, call.flags, call.lock_timeout_ms);
  }
  if (head.error == DeviceError::none && call.most_bytes > 0) {
    auto& exchange = *link->exchange;
    bool told = false;
    head.error =
        co_await wait_until(link, exchange.changed, call.io_timeout_ms, DeviceError::io_timeout, [&exchange, &told] {
          const bool nothing_comes = exchange.is_idle() && !exchange.has_output();
          if (nothing_comes && !exchange.wants_close() && !told) exchange.unterminated();
          told = told || nothing_comes;
          return exchange.has_output() || exchange.wants_close();
        });
    close_ = exchange.wants_close();
  }
  if (head.error == DeviceError::none) {
    std::optional<char> term_char;
    if ((call.flags & flag_term_char) != 0) term_char = static_cast<char>(call.term_char & 0xFFU);
    const auto pace = link->exchange->manner().pace;
    if (pace) co_await pace();
    const auto piece = link->exchange->peek(std::min(call.most_bytes, shared_->listen.most_read_bytes), term_char);
    if (piece.bytes.size() == call.most_bytes) head.reason |= reason_count;
    if (piece.ends_at_char) head.reason |= reason_char;
    if (piece.ends_message) head.reason |= reason_end;
    head.data_bytes = static_cast<std::uint32_t>(piece.bytes.size());
    read_link_ = link;
    read_bytes_ = piece.bytes.size();
  }
  const bool answers = head.data_bytes > 0;
  if (answers && link->exchange->manner().wrong_type) {
    append_call(reply_, {.xid = xid_, .program = core_program, .version = program_version});
  } else {
    append_reply(reply_, answers && link->exchange->manner().wrong_id ? xid_ + 1 : xid_);
  }
  append(reply_, head);
}

task<> CoreConversation::generic(Procedure procedure, XdrReader& reader) {
  Generic call;
  if (!got(reader, call)) co_return;
  const auto link = find(call.link);
  auto error = DeviceError::invalid_link;
  if (link) error = co_await admitted(link, call.flags, call.lock_timeout_ms);
  StatusByte polled{.error = error};
  if (error == DeviceError::none) {
    switch (procedure) {
      case Procedure::device_readstb:
        polled.status = link->device().serial_poll(link->exchange->has_output());
        link->served->polled = link->served->requests;
        break;
      case Procedure::device_trigger: link->exchange->trigger(); break;
      case Procedure::device_clear: link->exchange->clear(); break;
      case Procedure::device_remote: link->device().remote_local(RemoteLocal::remote); break;
      default: link->device().remote_local(RemoteLocal::local); break;
    }
  }
  append_reply(reply_, xid_);
  if (procedure == Procedure::device_readstb) {
    append(reply_, polled);
  } else {
    append_error(reply_, error);
  }
}

task<> CoreConversation::device_lock(XdrReader& reader) {
  Lock call;
  if (!got(reader, call)) co_return;
  const auto link = find(call.link);
  auto error = DeviceError::invalid_link;
  if (link) error = co_await lock(link, (call.flags & flag_wait_lock) != 0, call.lock_timeout_ms);
  result(error);
}

void CoreConversation::device_unlock(XdrReader& reader) {
  std::int32_t id = 0;
  if (!got_link(reader, id)) return;
  const auto link = find(id);
  if (!link) return result(DeviceError::invalid_link);
  const bool held = link->device().access.holds_exclusive(link->holder);
  if (held) link->device().access.release(link->holder);
  result(held ? DeviceError::none : DeviceError::no_lock);
}

// A request that nobody polled yet is told at once, as the service request line of IEEE 488.1 would still be true.
void CoreConversation::device_enable_srq(XdrReader& reader) {
  EnableRequests call;
  if (!got(reader, call)) return;
  const auto link = find(call.link);
  if (!link) return result(DeviceError::invalid_link);
  link->requests_enabled = call.enable;
  link->handle = call.handle;
  if (link->served->requests > link->served->polled) link->request_service();
  result(DeviceError::none);
}

void CoreConversation::destroy_link(XdrReader& reader) {
  std::int32_t id = 0;
  if (!got_link(reader, id)) return;
  const auto link = find(id);
  if (!link) return result(DeviceError::invalid_link);
  forget(*link);
  links_.erase(id);
  result(DeviceError::none);
}

// Connects to the client itself only: nobody is to use this server for reaching others.
task<> CoreConversation::create_intr_chan(XdrReader& reader) {
  InterruptChannel call;
  if (!got(reader, call)) co_return;
  boost::system::error_code gone;
  auto peer = stream_.socket.remote_endpoint(gone).address();
  if (peer.is_v6() && peer.to_v6().is_v4_mapped())
    peer = asio::ip::make_address_v4(asio::ip::v4_mapped, peer.to_v6());  // the server listens on "::"
  const asio::ip::address wanted = asio::ip::address_v4(call.address);
  auto error = DeviceError::none;
  if (sender_ && sender_->is_open()) {
    error = DeviceError::channel_established;
  } else if (call.family != InterruptChannel::tcp) {
    error = DeviceError::not_supported;
  } else if (call.port == 0 || call.port > 0xFFFF) {
    error = DeviceError::parameter;
  } else if (gone || wanted != peer) {
    error = DeviceError::invalid_address;
  } else {
    destroy_intr_chan();
    auto sender = std::make_shared<RequestSender>(shared_->executor);
    bool connected = false;
    const asio::ip::tcp::endpoint to(wanted, static_cast<std::uint16_t>(call.port));
    co_await base::finished_within(shared_->timeline, most_connect_back, connect_back(sender, to, call, connected));
    if (connected) {
      sender_ = std::move(sender);
      for (const auto& [id, link] : links_) link->sender = sender_;
    } else {
      error = DeviceError::channel_not_established;
    }
  }
  result(error);
}

void CoreConversation::destroy_intr_chan() {
  if (sender_) sender_->close();
  sender_ = nullptr;
  for (const auto& [id, link] : links_) link->sender = nullptr;
}

}  // namespace eyelevel::transport::vxi11
