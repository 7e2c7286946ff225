// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/vxi11/client.hpp"

#include <fmt/format.h>

#include <boost/asio/error.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/system/system_error.hpp>

#include <algorithm>
#include <array>
#include <utility>

#include "instruments/transport/detail/answer_end.hpp"
#include "instruments/transport/error.hpp"
#include "instruments/transport/vxi11/client_link.hpp"
#include "instruments/transport/vxi11/codec.hpp"
#include "instruments/transport/vxi11/locate.hpp"

namespace eyelevel::transport::vxi11 {
namespace asio = boost::asio;
namespace {

constexpr int most_idle_replies = 1000;  // in a row, that neither carry a byte nor end anything
constexpr std::uint32_t wait_for_own_lock_ms = 2000;

}  // namespace

task<> Vxi11Link::open() {
  auto socket = co_await connect_to_core(
      {.host = name_.host, .resource = text_, .portmapper_port = options_.portmapper_port}, *step_);
  *step_ = fmt::format("the link to {}", name_.device);
  boost::system::error_code gone;
  peer_ = socket.remote_endpoint(gone).address();
  core_ = std::make_shared<RpcClient>(std::move(socket), core_program, program_version,
                                      options_.request_bytes + most_small_bytes);
  const std::string doing = fmt::format("opening the link to {}", name_.device);
  CreatedLink created;
  try {
    std::string arguments;
    // A lock that was held is taken again; the instrument may need a moment to see that the old connection is gone.
    append(arguments, CreateLink{.client_id = 0,
                                 .lock_device = locked_,
                                 .lock_timeout_ms = locked_ ? wait_for_own_lock_ms : 0,
                                 .device = name_.device});
    const auto results = co_await core_->call(static_cast<std::uint32_t>(Procedure::create_link), arguments);
    XdrReader reader(results);
    vxi11::read(reader, created);
    if (!reader.good()) throw WireFault(reader.fault());
  } catch (const WireFault& fault) {
    drop();
    fail(base::ErrorCode::no_connection, text_, fmt::format("{}: {}", doing, fault.what()),
         "is this the address of an instrument?");
  } catch (const boost::system::system_error& error) {
    drop();
    fail_with(error.code(), true, text_, doing);
  }
  if (created.error != DeviceError::none) {
    drop();
    std::string advice = "see the instrument's handbook for the names of its devices; most have inst0 only";
    if (created.error == DeviceError::out_of_resources) advice = "close other programs that use this instrument";
    if (created.error == DeviceError::locked)
      advice = "release the lock in the program that has it, or switch the instrument off and on";
    fail(base::ErrorCode::no_connection, text_, fmt::format("{}: {}", doing, describe(created.error)), advice);
  }
  link_ = created.link;
  abort_port_ = created.abort_port;
  most_write_bytes_ = std::min(created.most_receive_bytes, options_.request_bytes);
  if (most_write_bytes_ == 0) most_write_bytes_ = usual_write_bytes;
  usable_ = true;
  clear_pending_ = false;
  if (wants_requests_) co_await enable_requests();
}

std::shared_ptr<RpcClient> Vxi11Link::core() const {
  if (!usable_ || core_->is_broken())
    fail(base::ErrorCode::connection_lost, text_, "the connection is closed", "open the instrument again");
  return core_;
}

void Vxi11Link::drop() noexcept {
  usable_ = false;
  if (core_) core_->stream.close();
  if (abort_) abort_->stream.close();
  if (requests_) requests_->stop();
}

void Vxi11Link::close() noexcept {
  if (usable_) {
    // Not waited for: the instrument forgets the link at the end of the connection too, if it follows the standard.
    std::string arguments;
    append_link(arguments, link_);
    core_->send_at_once(static_cast<std::uint32_t>(Procedure::destroy_link), arguments);
  }
  drop();
}

// Call inside a handler: what is under way becomes the house's error.
void Vxi11Link::translate(std::string_view doing) {
  try {
    throw;
  } catch (const CallRefused& refusal) {
    bad(fmt::format("{}: {}", doing, refusal.what()));
  } catch (const WireFault& fault) {
    usable_ = false;
    bad(fmt::format("{}: {}", doing, fault.what()));
  } catch (const boost::system::system_error& error) {
    if (error.code() != asio::error::operation_aborted) usable_ = false;
    fail_with(error.code(), false, text_, doing);
  }
}

void Vxi11Link::bad(std::string why) const {
  fail(base::ErrorCode::bad_answer, text_, std::move(why),
       "ask again; if it stays so, switch the instrument off and on");
}

void Vxi11Link::refused(DeviceError error, std::string_view doing, bool nothing_happened) {
  const auto what = fmt::format("{}: {}", doing, describe(error));
  if (error == DeviceError::locked)
    fail(nothing_happened ? base::ErrorCode::no_connection : base::ErrorCode::bad_answer, text_, what,
         "release the lock in the program that has it");
  if (error == DeviceError::invalid_link) {
    usable_ = false;
    fail(base::ErrorCode::connection_lost, text_, what, "look whether the instrument restarted");
  }
  if (error == DeviceError::not_supported)
    fail(base::ErrorCode::bad_input, text_, what, "use a command of the instrument in its place");
  bad(what);
}

task<Vxi11Link::Outcome> Vxi11Link::call(Procedure procedure, std::string arguments, std::string_view doing) {
  const auto core = this->core();
  Outcome outcome;
  try {
    const auto results = co_await core->call(static_cast<std::uint32_t>(procedure), std::move(arguments));
    XdrReader reader(results);
    outcome.error = read_error(reader);
    if (!reader.good()) throw WireFault(reader.fault());
    if (!reader.rest().empty()) outcome.value = reader.u32("the result");
  } catch (const CallRefused&) {
    outcome.error = DeviceError::not_supported;
  } catch (...) {
    translate(doing);
  }
  co_return outcome;
}

task<Vxi11Link::Outcome> Vxi11Link::generic(Procedure procedure, std::string_view doing) {
  std::string arguments;
  append(arguments, Generic{.link = link_, .io_timeout_ms = options_.io_timeout_ms});
  co_return co_await call(procedure, std::move(arguments), doing);
}

task<Written> Vxi11Link::write_part(std::string_view data, std::string_view terminator, bool end) {
  const auto core = this->core();
  Written written;
  try {
    std::string arguments;
    append(arguments, WriteHead{.link = link_,
                                .io_timeout_ms = options_.io_timeout_ms,
                                .flags = end ? flag_end : 0,
                                .data_bytes = static_cast<std::uint32_t>(data.size() + terminator.size())});
    co_await core->send(static_cast<std::uint32_t>(Procedure::device_write), arguments, data, terminator);
    co_await core->await_reply();
    std::array<char, 8> result{};
    co_await core->stream.read_exactly(result.data(), result.size(), "the result");
    XdrReader reader(std::string_view(result.data(), result.size()));
    vxi11::read(reader, written);
  } catch (...) {
    translate("device_write");
  }
  co_return written;
}

task<> Vxi11Link::write(std::string_view message) {
  static constexpr std::string_view terminator = "\n";
  const std::size_t total = message.size() + terminator.size();
  late_before_ = core()->late_replies();
  int idle = 0;
  for (std::size_t sent = 0; sent < total;) {
    const std::size_t count = std::min<std::size_t>(total - sent, most_write_bytes_);
    const bool end = sent + count == total;
    const auto data = message.substr(std::min(sent, message.size()), count);
    const auto written = co_await write_part(data, terminator.substr(0, count - data.size()), end);
    if (written.error != DeviceError::none && written.error != DeviceError::io_timeout)
      refused(written.error, "device_write", sent == 0);
    if (written.bytes > count)
      bad(fmt::format("device_write: the instrument says it took {} bytes of {}", written.bytes, count));
    // An instrument that took less is given the rest.
    sent += written.bytes;
    idle = written.bytes == 0 ? idle + 1 : 0;
    if (idle >= most_idle_replies) bad(fmt::format("device_write: {} calls took nothing", idle));
  }
}

task<Vxi11Link::Piece> Vxi11Link::read_part(Buffer& into, std::size_t& have, std::size_t wanted) {
  const auto core = this->core();
  Piece piece;
  try {
    std::string arguments;
    append(
        arguments,
        Read{.link = link_, .most_bytes = static_cast<std::uint32_t>(wanted), .io_timeout_ms = options_.io_timeout_ms});
    co_await core->send(static_cast<std::uint32_t>(Procedure::device_read), arguments);
    co_await core->await_reply();
    std::array<char, ReadHead::bytes> result{};
    co_await core->stream.read_exactly(result.data(), result.size(), "the result");
    XdrReader reader(std::string_view(result.data(), result.size()));
    ReadHead head;
    vxi11::read(reader, head);
    if (head.data_bytes > wanted)
      throw WireFault(
          fmt::format("byte 9 of the result: {} bytes of data, {} were asked for", head.data_bytes, wanted));
    const std::size_t end = have + head.data_bytes;
    if (into.size() < end) into.resize(end);
    while (have < end) {
      const std::size_t count = co_await core->stream.read_some(into.data() + have, end - have);
      if (count == 0) throw WireFault(fmt::format("the record ends {} bytes before the end of its data", end - have));
      have += count;
      tell_progress(std::string_view(into.data(), have));
    }
    piece = {head.error, (head.reason & reason_end) != 0, head.data_bytes};
  } catch (...) {
    translate("device_read");
  }
  co_return piece;
}

// The buffer is not cleared but overwritten: making it smaller and larger again would fill it with zeros each time.
task<> Vxi11Link::read(Buffer& into, std::size_t most) {
  std::size_t have = 0;
  int idle = 0;
  try {
    for (;;) {
      // Three more than allowed: CR NL, and one by which too many are seen.
      const std::size_t wanted = std::min<std::size_t>(options_.request_bytes, most - have + 3);
      const auto piece = co_await read_part(into, have, wanted);
      if (piece.error != DeviceError::none && piece.error != DeviceError::io_timeout)
        refused(piece.error, "device_read", false);
      if (have > most + 2) bad(fmt::format("the answer is longer than the limit of {} bytes", most));
      // Only END ends an answer: fewer bytes than asked for mean nothing, and after END nothing is asked for.
      if (piece.ends) break;
      idle = piece.bytes == 0 ? idle + 1 : 0;
      if (idle >= most_idle_replies) bad(fmt::format("device_read: {} calls gave neither a byte nor the end", idle));
    }
  } catch (...) {
    into.resize(have);  // what came so far, for the message about it
    throw;
  }
  into.resize(have);
  finish(into, most);
}

void Vxi11Link::finish(Buffer& answer, std::size_t most) const {
  const auto end = detail::answer_end(answer, most);
  if (end.fault.empty()) {
    answer.resize(end.message_bytes);
    return;
  }
  base::ErrorRecord record;
  record.code = base::ErrorCode::bad_answer;
  record.where = text_;
  record.message = end.fault;
  record.received = answer.substr(0, 400);
  record.expected = "one response message";
  record.advice = "ask again; if it stays so, ask for fewer points";
  throw TransportError(std::move(record));
}

task<> Vxi11Link::clear() {
  if (co_await clear_in_band()) co_return;
  drop();
  co_await open();
  // A new link has nothing to clear, but the instrument may still work at what the old one sent.
  const auto cleared = co_await generic(Procedure::device_clear, "device_clear");
  if (cleared.error != DeviceError::none && cleared.error != DeviceError::not_supported)
    refused(cleared.error, "device_clear", true);
}

// False: over this connection it cannot be done.
task<bool> Vxi11Link::clear_in_band() {
  if (!usable_ || core_->is_broken() || clear_pending_) co_return false;
  clear_pending_ = true;
  try {
    // A clear waits behind the call under way, so that one is ended first.
    if (core_->is_unanswered() && !co_await abort_call()) co_return false;
    const auto cleared = co_await generic(Procedure::device_clear, "device_clear");
    if (cleared.error != DeviceError::none) co_return false;
  } catch (const base::Error&) {
    co_return false;  // the new connection tells what is wrong, if anything is
  }
  clear_pending_ = false;
  co_return true;
}

task<bool> Vxi11Link::abort_call() {
  if (abort_port_ == 0 || abort_port_ > 0xFFFF) co_return false;
  if (!abort_ || abort_->is_broken() || !abort_->stream.socket.is_open()) {
    auto socket = co_await connect_to(peer_, static_cast<std::uint16_t>(abort_port_), "the abort channel", text_);
    abort_ = std::make_shared<RpcClient>(std::move(socket), abort_program, program_version, most_small_bytes);
  }
  const auto abort = abort_;
  std::string arguments;
  append_link(arguments, link_);
  try {
    const auto results = co_await abort->call(static_cast<std::uint32_t>(Procedure::device_abort), arguments);
    XdrReader reader(results);
    co_return read_error(reader) == DeviceError::none&& reader.good();
  } catch (const WireFault&) {
    co_return false;
  } catch (const boost::system::system_error& error) {
    if (error.code() == asio::error::operation_aborted) throw;
    abort->stream.close();
    co_return false;
  }
}

task<std::unique_ptr<Link>> connect(ResourceName name, Options options) {
  const auto executor = co_await asio::this_coro::executor;
  auto link = std::make_unique<Vxi11Link>(executor, std::move(name), std::move(options));
  co_await link->open();
  co_return link;
}

}  // namespace eyelevel::transport::vxi11
