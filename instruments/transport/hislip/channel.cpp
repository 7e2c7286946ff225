// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/hislip/channel.hpp"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <algorithm>
#include <array>
#include <cstring>
#include <utility>

#include "instruments/transport/detail/send_all.hpp"

namespace eyelevel::transport::hislip {
namespace asio = boost::asio;
namespace {

constexpr std::size_t buffer_bytes = std::size_t{4} << 10U;  // most messages are shorter
constexpr std::size_t chunk_bytes = std::size_t{64} << 10U;

}  // namespace

Channel::Channel(asio::ip::tcp::socket socket) : socket_(std::move(socket)), buffer_(buffer_bytes) {}

Channel::ErrorCode Channel::prepare() {
  ErrorCode error;
  socket_.set_option(asio::ip::tcp::no_delay(true), error);
  if (!error) socket_.set_option(asio::socket_base::keep_alive(true), error);
  if (!error) socket_.non_blocking(true, error);
  begin_ = end_ = 0;
  payload_left_ = 0;
  unsent_ = 0;
  fault_.clear();
  tls_.reset();
  going_out_.clear();
  return error;
}

void Channel::close() noexcept {
  ErrorCode closed;  // nothing can be done about a failing close
  if (tls_ && is_open() && unsent_ == 0) {
    tls_->end();
    socket_.write_some(asio::buffer(tls_->to_send()), closed);
  }
  socket_.close(closed);
}

bool Channel::take(Header& header) {
  auto found = read_header(buffered());
  if (!found.fault.empty()) fault_ = std::move(found.fault);
  if (!found.complete) return false;
  header = found.header;
  begin_ += header_bytes;
  payload_left_ = header.payload_bytes;
  return true;
}

void Channel::make_room() {
  if (begin_ == end_) {
    begin_ = end_ = 0;
  } else if (buffer_.size() - end_ < header_bytes) {
    std::memmove(buffer_.data(), buffer_.data() + begin_, end_ - begin_);
    end_ -= begin_;
    begin_ = 0;
  }
}

task<Channel::ErrorCode> Channel::secure(std::unique_ptr<Tls> tls) {
  std::string rest;  // of the message before
  if (const auto error = co_await read_short_payload(rest)) co_return error;
  encrypted_.resize(chunk_bytes);
  tls_ = std::move(tls);
  tls_->put(buffered());  // the peer may have begun already
  begin_ = end_ = 0;
  for (;;) {
    const bool done = tls_->shake_hands();
    const auto cut = co_await send_encrypted(Cancellable::yes);  // the alert that says what was wrong, too
    if (!tls_->fault().empty()) {
      fault_ = tls_->fault();
      co_return boost::system::errc::make_error_code(boost::system::errc::protocol_error);
    }
    if (cut) co_return cut;
    if (done) co_return ErrorCode();
    ErrorCode error;
    const std::size_t count =
        co_await socket_.async_read_some(asio::buffer(encrypted_), asio::redirect_error(asio::use_awaitable, error));
    if (error) co_return error;
    tls_->put({encrypted_.data(), count});
  }
}

task<Channel::ErrorCode> Channel::unsecure() {
  std::string rest;  // of the message before
  if (const auto error = co_await read_short_payload(rest)) co_return error;
  tls_->end();
  if (const auto cut = co_await send_encrypted(Cancellable::yes)) co_return cut;
  std::string came(buffered());
  for (;;) {
    std::array<char, buffer_bytes> piece;
    std::size_t count = 0;
    const auto error = co_await receive(piece.data(), piece.size(), count);
    came.append(piece.data(), count);
    if (came.size() > chunk_bytes) fault_ = "the peer goes on with encryption, and should have ended it";
    if (!fault_.empty()) co_return boost::system::errc::make_error_code(boost::system::errc::protocol_error);
    if (tls_->has_ended()) break;
    if (error) co_return error;
  }
  came += tls_->behind_end();
  tls_.reset();
  buffer_.resize(std::max(buffer_.size(), came.size()));
  came.copy(buffer_.data(), came.size());
  begin_ = 0;
  end_ = came.size();
  co_return ErrorCode();
}

// At least one byte that was decrypted.
task<Channel::ErrorCode> Channel::receive(char* into, std::size_t most, std::size_t& count) {
  for (;;) {
    count = tls_->read(into, most);
    if (count > 0) co_return ErrorCode();
    if (tls_->has_ended()) co_return asio::error::eof;
    fault_ = tls_->fault();
    if (!fault_.empty()) co_return boost::system::errc::make_error_code(boost::system::errc::protocol_error);
    ErrorCode error;
    const std::size_t came =
        co_await socket_.async_read_some(asio::buffer(encrypted_), asio::redirect_error(asio::use_awaitable, error));
    if (error) co_return error;
    tls_->put({encrypted_.data(), came});
  }
}

// As much as there is room for; Asio's async_write would cut it to 64 KiB.
task<std::size_t> Channel::write_some(Parts parts, Cancellable cancellable, ErrorCode& error) {
  auto token = asio::redirect_error(asio::use_awaitable, error);
  if (cancellable == Cancellable::yes) co_return co_await socket_.async_write_some(parts, token);
  co_return co_await socket_.async_write_some(parts, asio::bind_cancellation_slot(asio::cancellation_slot(), token));
}

// What of it is not sent stays, for send_filler(). Apart from what TLS has to say meanwhile to what is read.
task<Channel::ErrorCode> Channel::send_encrypted(Cancellable cancellable) {
  std::string& bytes = going_out_;
  bytes += std::exchange(tls_->to_send(), {});
  ErrorCode error;
  std::size_t sent = bytes.empty() ? 0 : socket_.write_some(asio::buffer(bytes), error);
  if (error == asio::error::would_block) error.clear();
  while (!error && sent < bytes.size()) {
    unsent_ = bytes.size() - sent;  // nothing else may be sent meanwhile
    sent += co_await write_some({asio::buffer(bytes) + sent}, cancellable, error);
  }
  bytes.erase(0, sent);
  unsent_ = bytes.size();
  co_return error;
}

task<Channel::ErrorCode> Channel::fill() {
  make_room();
  ErrorCode error;
  if (tls_) {
    std::size_t count = 0;
    error = co_await receive(buffer_.data() + end_, buffer_.size() - end_, count);
    end_ += count;
    co_return error;
  }
  end_ += co_await socket_.async_read_some(asio::buffer(buffer_.data() + end_, buffer_.size() - end_),
                                           asio::redirect_error(asio::use_awaitable, error));
  co_return error;
}

task<Channel::ErrorCode> Channel::next(Header& header) {
  for (;;) {
    const auto here = static_cast<std::size_t>(std::min<std::uint64_t>(payload_left_, end_ - begin_));
    begin_ += here;
    payload_left_ -= here;
    if (payload_left_ == 0) {
      if (take(header)) co_return ErrorCode();
      if (!fault_.empty()) co_return boost::system::errc::make_error_code(boost::system::errc::bad_message);
    }
    if (const auto error = co_await fill()) co_return error;
  }
}

bool Channel::peek(Header& header) {
  if (payload_left_ > 0) return false;
  if (end_ - begin_ < header_bytes) {
    make_room();
    ErrorCode nothing;  // mostly: would_block
    if (tls_) {
      tls_->put({encrypted_.data(), socket_.read_some(asio::buffer(encrypted_), nothing)});
      end_ += tls_->read(buffer_.data() + end_, buffer_.size() - end_);
    } else {
      end_ += socket_.read_some(asio::buffer(buffer_.data() + end_, buffer_.size() - end_), nothing);
    }
  }
  const auto found = read_header(buffered());
  if (found.complete) header = found.header;
  return found.complete;
}

task<Channel::ErrorCode> Channel::read_payload(std::string& into, std::size_t& have, std::size_t count, Came came) {
  const std::size_t here = std::min(count, end_ - begin_);
  std::memcpy(into.data() + have, buffer_.data() + begin_, here);
  begin_ += here;
  have += here;
  count -= here;
  payload_left_ -= here;
  while (tls_ && count > 0) {
    std::size_t got = 0;
    if (const auto error = co_await receive(into.data() + have, count, got)) co_return error;
    have += got;
    count -= got;
    payload_left_ -= got;
    if (came) came(std::string_view(into.data(), have));
  }
  while (count > 0) {
    // The buffer is empty now: the header behind this payload may come with it.
    begin_ = end_ = 0;
    const std::array<asio::mutable_buffer, 2> both{asio::buffer(into.data() + have, count), asio::buffer(buffer_)};
    ErrorCode error;
    const std::size_t got = co_await socket_.async_read_some(both, asio::redirect_error(asio::use_awaitable, error));
    const std::size_t payload = std::min(got, count);
    have += payload;
    count -= payload;
    payload_left_ -= payload;
    end_ = got - payload;
    if (error) co_return error;
    if (came) came(std::string_view(into.data(), have));
  }
  co_return ErrorCode();
}

task<Channel::ErrorCode> Channel::read_short_payload(std::string& into) {
  const auto count = static_cast<std::size_t>(payload_left_);
  into.resize(count);
  std::size_t have = 0;
  co_return co_await read_payload(into, have, count);
}

task<Channel::ErrorCode> Channel::send(Header header, std::string_view payload, std::string_view more,
                                       Cancellable cancellable) {
  header.payload_bytes = payload.size() + more.size();
  const auto head = encode(header);
  Parts parts{asio::buffer(head), asio::buffer(payload.data(), payload.size()), asio::buffer(more.data(), more.size())};
  if (tls_) {
    for (const auto part : parts) tls_->write({static_cast<const char*>(part.data()), part.size()});
    co_return co_await send_encrypted(cancellable);
  }
  const std::size_t whole = asio::buffer_size(parts);
  ErrorCode error;
  std::size_t sent = socket_.write_some(parts, error);  // mostly there is room for all of it
  if (sent == whole) co_return ErrorCode();
  if (error && error != asio::error::would_block) {
    unsent_ = whole;
    co_return error;
  }
  error.clear();
  detail::drop_front(parts, sent);
  while (!error && sent < whole) {
    unsent_ = whole - sent;  // nothing else may be sent meanwhile
    const std::size_t count = co_await write_some(parts, cancellable, error);
    detail::drop_front(parts, count);
    sent += count;
  }
  unsent_ = sent == 0 ? 0 : whole - sent;  // a message that was not begun need not be finished
  co_return error;
}

void Channel::send_last(Header header, std::string_view payload) noexcept {
  if (unsent_ > 0 || !is_open()) return;
  header.payload_bytes = payload.size();
  const auto head = encode(header);
  std::array<asio::const_buffer, 2> parts{asio::buffer(head), asio::buffer(payload.data(), payload.size())};
  if (tls_) {
    for (const auto part : parts) tls_->write({static_cast<const char*>(part.data()), part.size()});
    parts = {asio::buffer(tls_->to_send()), asio::const_buffer()};
  }
  ErrorCode unheard;  // the peer may be gone; then nobody needs to be told
  const std::size_t sent = socket_.write_some(parts, unheard);
  unsent_ = asio::buffer_size(parts) - sent;
  // A close with bytes unread would make the system throw these words away.
  socket_.shutdown(asio::ip::tcp::socket::shutdown_send, unheard);
  for (int times = 0; times < 256 && socket_.available(unheard) > 0 && !unheard; ++times)
    socket_.read_some(asio::buffer(buffer_), unheard);
}

task<Channel::ErrorCode> Channel::send_filler() {
  if (tls_) co_return co_await send_encrypted(Cancellable::yes);
  static const std::string filler(chunk_bytes, '\n');
  while (unsent_ > 0) {
    ErrorCode error;
    unsent_ -= co_await socket_.async_write_some(asio::buffer(filler.data(), std::min(unsent_, filler.size())),
                                                 asio::redirect_error(asio::use_awaitable, error));
    if (error) co_return error;
  }
  co_return ErrorCode();
}

bool is_over(const Channel::ErrorCode& error) {
  if (error == asio::error::operation_aborted) throw boost::system::system_error(error);
  return static_cast<bool>(error);
}

}  // namespace eyelevel::transport::hislip
