// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/hislip/client.hpp"

#include <fmt/format.h>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/deferred.hpp>
#include <boost/asio/experimental/parallel_group.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <algorithm>
#include <utility>

#include "instruments/transport/detail/tcp.hpp"
#include "instruments/transport/error.hpp"
#include "instruments/transport/hislip/client_link.hpp"

namespace eyelevel::transport::hislip {
namespace asio = boost::asio;
namespace {

constexpr std::size_t most_shown_bytes = 400;
constexpr auto synchronous = Connection::synchronous;
constexpr auto asynchronous = Connection::asynchronous;

}  // namespace

// Connections and messages -------------------------------------------------------------------------------------------

void HislipLink::require_open() {
  if (sync_.is_open() && async_.is_open()) return;
  must_reopen_ = true;
  fail(base::ErrorCode::connection_lost, text_, "the connection is closed", "open it again");
}

task<> HislipLink::send(Connection which, Header header, std::string_view payload, std::string_view more) {
  if (const auto error = co_await at(which).send(header, payload, more)) broken(which, error);
}

task<Header> HislipLink::next(Connection which) {
  Header header;
  if (const auto error = co_await at(which).next(header)) broken(which, error);
  if (auto fault = fault_of(header, which, Sender::server); !fault.empty())
    unexpected(which, header, std::move(fault), "a message as IVI-6.1 has it");
  if (header.type == MessageType::fatal_error || header.type == MessageType::error) co_await complaint(which, header);
  co_return header;
}

// The wanted message of the asynchronous connection; what may come between is taken note of.
task<Header> HislipLink::next_async(MessageType wanted) {
  for (;;) {
    const Header header = co_await next(asynchronous);
    if (header.type == wanted) co_return header;
    if (header.type == MessageType::async_service_request) {
      service_asked_ = true;
    } else if (header.type == MessageType::async_interrupted) {
      exchange_.on_async_interrupted();
    } else if (wanted != MessageType::async_device_clear_acknowledge) {
      // Before a device clear is acknowledged, answers to what was given up may come.
      unexpected(asynchronous, header, fmt::format("{} came {}", name_of(header.type), doing_), name_of(wanted));
    }
  }
}

void HislipLink::broken(Connection which, const boost::system::error_code& error) {
  if (error == asio::error::operation_aborted) fail_with(error, false, text_, doing_);
  const bool no_hislip = error == boost::system::errc::bad_message;
  const bool no_encryption = error == boost::system::errc::protocol_error;
  const std::string what = fmt::format("{}, on the {} connection", doing_, name_of(which));
  std::string fault = at(which).fault();
  must_reopen_ = true;
  close();
  if (no_hislip)
    fail(opening_ ? code() : base::ErrorCode::bad_answer, text_, fmt::format("{}: {}", what, fault),
         opening_ ? "is this the port of the instrument's HiSLIP service?" : "ask again; the connection is made anew");
  if (no_encryption)
    fail(code(), text_, fmt::format("{}: {}", what, fault), "does the instrument speak TLS 1.2 or later?");
  if (opening_ && error == asio::error::eof)
    fail(code(), text_, fmt::format("{}: the instrument closed the connection", what),
         "is the instrument's HiSLIP service switched on, and are there not too many clients?");
  fail_with(error, opening_, text_, what);
}

// FatalError and Error (6.2, 6.3) become exceptions; after the first kind the connection is gone.
task<> HislipLink::complaint(Connection which, Header header) {
  const bool fatal = header.type == MessageType::fatal_error;
  Buffer words;
  words.resize(static_cast<std::size_t>(std::min<std::uint64_t>(header.payload_bytes, most_async_bytes)));
  std::size_t have = 0;
  const auto cut = co_await at(which).read_payload(words, have, words.size());
  if (cut == asio::error::operation_aborted) broken(which, cut);
  words.resize(have);
  base::ErrorRecord record;
  record.code = fatal || opening_ ? code() : base::ErrorCode::bad_answer;
  record.where = text_;
  record.message = fmt::format("{}: the instrument reports {} {} ({}){}{}", doing_, fatal ? "fatal error" : "error",
                               header.control, fatal ? fatal_error_text(header.control) : error_text(header.control),
                               words.empty() ? "" : ": ", base::escaped(words));
  record.advice = fatal ? "the connection is made anew; if it happens again, restart the instrument's network service"
                        : "the instrument does not know or does not allow this; go on without it";
  if (fatal) {
    fatal_code_ = header.control;
    must_reopen_ = true;
    close();
  }
  throw TransportError(std::move(record));
}

void HislipLink::unexpected(Connection which, const Header& header, std::string why, std::string expected) {
  const auto bytes = encode(header);
  must_reopen_ = true;
  refuse_answer(fmt::format("{}, on the {} connection: {}", doing_, name_of(which), why),
                std::string_view(bytes.data(), bytes.size()), std::move(expected));
}

void HislipLink::refuse_answer(std::string why, std::string_view received, std::string expected) {
  base::ErrorRecord record;
  record.code = opening_ ? code() : base::ErrorCode::bad_answer;
  record.where = text_;
  record.message = std::move(why);
  record.received = std::string(received.substr(0, most_shown_bytes));
  record.expected = std::move(expected);
  record.advice = opening_ ? "is this the port of the instrument's HiSLIP service?"
                           : "ask again; if it stays so, ask for fewer points";
  throw TransportError(std::move(record));
}

// Initialisation, 6.1 ------------------------------------------------------------------------------------------------

task<> HislipLink::open() {
  close();
  must_reopen_ = true;
  opening_ = true;
  service_asked_ = lock_asked_ = holds_exclusive_ = holds_shared_ = false;
  doing_ = "while connecting";
  if (!co_await initialise(options_.highest_version)) {
    sync_.close();
    co_await initialise(version_1_0);
  }
  co_await initialise_async();
  if (exchange_.mode() != options_.mode) co_await device_clear();
  opening_ = false;
  must_reopen_ = false;
}

// False: this version is not for us, try 1.0. A server that is not content with it says so by a fatal error.
task<bool> HislipLink::initialise(std::uint16_t version) {
  co_await detail::connect_tcp(sync_.socket(), name_.host, name_.port, text_);
  if (const auto error = sync_.prepare()) broken(synchronous, error);
  doing_ = "while initialising";
  co_await send(synchronous, {MessageType::initialize, 0, initialize_parameter(version, vendor_id)}, name_.device);
  Header header;
  fatal_code_ = 0;
  try {
    header = co_await next(synchronous);
  } catch (const TransportError&) {
    const bool version_refused = fatal_code_ == static_cast<std::uint8_t>(FatalError::invalid_initialisation);
    if (!version_refused || version == version_1_0) throw;
    co_return false;
  }
  if (header.type != MessageType::initialize_response)
    unexpected(synchronous, header, fmt::format("{} came", name_of(header.type)), "InitializeResponse");
  version_ = version_in(header.parameter);
  session_ = session_in(header.parameter);
  if (version_ < version_1_0 || version_ > version)
    unexpected(synchronous, header, fmt::format("version {} came", version_text(version_)),
               fmt::format("a version from 1.0 to {}", version_text(version)));
  if (!agrees_on_encryption(header)) co_return false;
  exchange_ = ClientExchange((header.control & initialize_flags::prefer_overlapped) != 0 ? Mode::overlapped
                                                                                         : Mode::synchronised);
  co_return true;
}

task<> HislipLink::initialise_async() {
  doing_ = "while opening the second connection";
  boost::system::error_code error;
  const auto endpoint = sync_.socket().remote_endpoint(error);
  if (!error) co_await async_.socket().async_connect(endpoint, asio::redirect_error(asio::use_awaitable, error));
  if (!error) error = async_.prepare();
  if (error) broken(asynchronous, error);
  co_await send(asynchronous, {MessageType::async_initialize, 0, session_});
  co_await start_encryption(co_await next_async(MessageType::async_initialize_response));
  doing_ = "while telling the maximum message size";
  const auto size = encode_size(most_payload_bytes + header_bytes);
  co_await send(asynchronous, {MessageType::async_maximum_message_size}, std::string_view(size.data(), size.size()));
  const Header header = co_await next_async(MessageType::async_maximum_message_size_response);
  std::string answer;
  if (const auto cut = co_await async_.read_short_payload(answer)) broken(asynchronous, cut);
  payload_bytes_ = usable_payload(read_size(answer), most_payload_bytes);
  if (payload_bytes_ == 0)
    unexpected(asynchronous, header, "the instrument takes messages of 0 bytes only", "at least 1 byte");
}

// Messages and answers, 3.1 and 3.2 ----------------------------------------------------------------------------------

task<> HislipLink::write(std::string_view message) {
  require_open();
  doing_ = "while sending";
  ignored_ = 0;
  co_await see_both_interruptions();
  static constexpr std::string_view nl = "\n";
  do {
    const std::string_view part = message.substr(0, payload_bytes_);
    message.remove_prefix(part.size());
    // NL may need a message of its own.
    const bool end = message.empty() && part.size() < payload_bytes_;
    const auto stamp = exchange_.stamp_message();
    const Header header{end ? MessageType::data_end : MessageType::data,
                        stamp.rmt_delivered ? rmt_delivered : std::uint8_t{0}, stamp.id};
    co_await send(synchronous, header, part, end ? nl : std::string_view());
    if (end) co_return;
  } while (true);
}

// The buffer is not cleared but overwritten: making it smaller and larger again would fill it with zeros each time.
task<> HislipLink::read(Buffer& into, std::size_t most) {
  std::size_t have = 0;
  try {
    require_open();
    doing_ = "while reading";
    for (;;) {
      const Header header = co_await next(synchronous);
      if (header.type == MessageType::data || header.type == MessageType::data_end) {
        if (co_await take_data(header, into, have, most)) break;
      } else if (header.type == MessageType::interrupted) {
        have = 0;
        exchange_.on_interrupted();
        co_await see_both_interruptions();
      } else {
        unexpected(synchronous, header, fmt::format("{} came", name_of(header.type)), "Data or DataEND");
      }
    }
  } catch (...) {
    into.resize(have);  // what came so far, for the message about it
    throw;
  }
  const auto ended = read_ended_response(std::string_view(into.data(), have), most);
  if (!ended.fault.empty()) {
    into.resize(have);
    refuse_answer(ended.fault, into, "one response message whose blocks are as long as they say");
  }
  into.resize(ended.message_bytes);
}

// True: the response is complete.
task<bool> HislipLink::take_data(const Header& header, Buffer& into, std::size_t& have, std::size_t most) {
  const bool end = header.type == MessageType::data_end;
  const std::uint32_t due = exchange_.next_from_server();
  const auto take = exchange_.on_data(header.parameter, end);
  if (take == ClientExchange::Take::out_of_count)
    unexpected(synchronous, header,
               fmt::format("a message of the instrument has the id {:#010x}, so that one before it is missing or came "
                           "twice",
                           header.parameter),
               fmt::format("{:#010x}", due));
  if (take == ClientExchange::Take::drop) {
    have = 0;
    if (end) ++ignored_;
    co_return false;
  }
  // One byte for the terminator, which is not counted.
  if (header.payload_bytes > most + 1 - have)
    refuse_answer(
        fmt::format("the answer is longer than the limit of {} bytes: {} bytes came and a message of {} more is "
                    "announced (bytes 9 to 16 of its header)",
                    most, have, header.payload_bytes),
        std::string_view(into.data(), have), "a shorter answer");
  const auto count = static_cast<std::size_t>(header.payload_bytes);
  if (into.size() < have + count) into.resize(have + count);
  const auto came = [this](std::string_view so_far) { tell_progress(so_far); };
  if (const auto error = co_await sync_.read_payload(into, have, count, came)) broken(synchronous, error);
  if (end) exchange_.delivered(header.parameter);
  co_return end;
}

// Rule 4: when one of Interrupted and AsyncInterrupted was seen, nothing goes on before the other.
task<> HislipLink::see_both_interruptions() {
  while (exchange_.waits_for_async_interrupted()) {
    co_await next_async(MessageType::async_interrupted);
    exchange_.on_async_interrupted();
  }
  while (exchange_.waits_for_interrupted()) {
    const Header header = co_await next(synchronous);
    if (header.type == MessageType::interrupted) exchange_.on_interrupted();
  }
}

task<> HislipLink::trigger() {
  require_open();
  doing_ = "while triggering";
  co_await see_both_interruptions();
  const auto stamp = exchange_.stamp_message();
  co_await send(synchronous, {MessageType::trigger, stamp.rmt_delivered ? rmt_delivered : std::uint8_t{0}, stamp.id});
}

// Device clear, 6.12 -------------------------------------------------------------------------------------------------

task<> HislipLink::clear() {
  if (must_reopen_ || lock_asked_ || async_.unsent() > 0 || !sync_.is_open() || !async_.is_open()) {
    co_await open();
    co_return;
  }
  must_reopen_ = true;  // until this has ended well
  bool cleared = true;
  try {
    co_await device_clear();
  } catch (const TransportError&) {
    cleared = false;  // what was wrong matters no more when a new connection stands
  }
  if (!cleared) co_await open();
  must_reopen_ = false;
}

task<> HislipLink::device_clear() {
  doing_ = "while clearing";
  co_await send(asynchronous, {MessageType::async_device_clear});
  // What the server prefers is in the control code; it will say at the end what it makes of our wish.
  co_await next_async(MessageType::async_device_clear_acknowledge);
  const std::uint8_t features = options_.mode == Mode::overlapped ? feature_overlapped : 0;
  // Both at once, for the instrument may be in the middle of a long response while it waits for the rest of ours. The
  // standard wants a half-sent message finished first; an instrument that reads nothing would never let that happen.
  const auto [order, sending, dropping] =
      co_await asio::experimental::make_parallel_group(
          asio::co_spawn(executor_, finish_sending(features), asio::deferred),
          asio::co_spawn(executor_, drop_until_cleared(), asio::deferred))
          .async_wait(asio::experimental::wait_for_one_error(), asio::use_awaitable);
  const auto& first = order[0] == 0 ? sending : dropping;
  if (first) std::rethrow_exception(first);
  const auto& second = order[0] == 0 ? dropping : sending;
  if (second) std::rethrow_exception(second);
}

task<> HislipLink::finish_sending(std::uint8_t features) {
  if (const auto error = co_await sync_.send_filler()) broken(synchronous, error);
  co_await send(synchronous, {MessageType::device_clear_complete, features});
}

task<> HislipLink::drop_until_cleared() {
  for (;;) {
    const Header header = co_await next(synchronous);
    if (header.type != MessageType::device_clear_acknowledge) continue;
    exchange_ = ClientExchange((header.control & feature_overlapped) != 0 ? Mode::overlapped : Mode::synchronised);
    co_return;
  }
}

task<std::unique_ptr<Link>> connect(ResourceName name, ClientOptions options) {
  const auto executor = co_await asio::this_coro::executor;
  auto link = std::make_unique<HislipLink>(executor, std::move(name), options);
  co_await link->open();
  co_return link;
}

}  // namespace eyelevel::transport::hislip
