// SPDX-License-Identifier: Apache-2.0
// The client's side of a carrier whose messages end with NL: a TCP socket or a serial line. Large blocks go straight
// into the caller's buffer. The resource name must outlive it. One thread.
#pragma once

#include <fmt/format.h>

#include <boost/asio/async_result.hpp>
#include <boost/asio/buffer.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <algorithm>
#include <array>
#include <cstddef>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/base/task.hpp"
#include "instruments/transport/detail/send_all.hpp"
#include "instruments/transport/error.hpp"
#include "instruments/transport/link.hpp"
#include "instruments/transport/socket/codec.hpp"

namespace eyelevel::transport::detail {

// A buffer for one read that counts how often it is asked for, which Asio does at each attempt: a read that ends
// without having been asked for it again ends with what was there when it began.
class CountingBuffer {
 public:
  using value_type = boost::asio::mutable_buffer;
  CountingBuffer(boost::asio::mutable_buffer buffer, unsigned& asked) : buffer_(buffer), asked_(&asked) {}
  const value_type* begin() const {
    ++*asked_;
    return &buffer_;
  }
  const value_type* end() const { return &buffer_ + 1; }

 private:
  boost::asio::mutable_buffer buffer_;
  unsigned* asked_;
};

template <class Stream>
class LineStream {
 public:
  LineStream(Stream stream, const std::string& where) : stream(std::move(stream)), where_(where), chunk_(chunk_bytes) {}

  // A short message, as most are, on a stream that does not block: in one buffer, which the system takes faster than
  // two, and without a coroutine. False: write() must follow; it sends the rest.
  bool wrote_at_once(std::string_view message) {
    std::array<char, 256> whole;
    if (message.size() >= whole.size()) return false;
    message.copy(whole.data(), message.size());
    whole[message.size()] = '\n';
    boost::system::error_code told_by_write;
    sent_ = stream.write_some(boost::asio::buffer(whole.data(), message.size() + 1), told_by_write);
    if (sent_ <= message.size()) return false;
    sent_ = 0;
    return true;
  }

  task<> write(std::string_view message) {
    static constexpr std::string_view end = "\n";
    std::array<boost::asio::const_buffer, 2> both{boost::asio::buffer(message.data(), message.size()),
                                                  boost::asio::buffer(end.data(), end.size())};
    drop_front(both, std::exchange(sent_, 0));
    if (const auto error = co_await send_all(stream, both)) fail_with(error, false, where_, "while sending");
  }

  // Sends a message and reads its answer, on a stream that does not block. The read begins before the message is sent:
  // it looks for stale bytes, which answer nothing that will be asked, and waits for the answer, all with one call of
  // the system where discarding, sending and reading one after the other need two.
  template <class Came>
  task<> query(std::string_view message, Buffer& into, std::size_t most, Came came) {
    forget();
    std::size_t have = 0;
    try {
      unsigned asked = 0, asked_at_once = 0;
      bool sent = false;
      // Where a large answer was, the next one goes without being copied.
      const std::size_t room = std::min(into.size(), most);
      const bool direct = room > chunk_.size();
      const auto first = direct ? boost::asio::buffer(into.data(), room) : scratch();
      const auto begin = [&](auto handler) {
        stream.async_read_some(CountingBuffer(first, asked), std::move(handler));
        asked_at_once = asked;
        sent = wrote_at_once(message);
        boost::system::error_code ignored;  // then the read is as good as none
        if (!sent) stream.cancel(ignored);
      };
      boost::system::error_code error;
      boost::asio::use_awaitable_t<> awaitable;
      auto token = boost::asio::redirect_error(awaitable, error);
      const std::size_t count =
          co_await boost::asio::async_initiate<decltype(token), void(boost::system::error_code, std::size_t)>(begin,
                                                                                                              token);
      if (!sent) {
        co_await write(message);
      } else if (error) {
        fail_with(error, false, where_, "while reading");
      } else if (asked > asked_at_once) {
        if (direct) have = count;
        if (!direct) put(into, have, std::string_view(chunk_.data(), count));
        came(std::string_view(into.data(), have));
      } else if (count >= chunk_.size()) {
        bad({}, fmt::format("{} bytes or more came that nobody had asked for", count));
      }
    } catch (...) {
      into.clear();  // what is in it belongs to an earlier query
      throw;
    }
    co_await read_on(into, have, most, std::move(came));
  }

  // `came` is told after each piece what is here.
  template <class Came>
  task<> read(Buffer& into, std::size_t most, Came came) {
    std::size_t have = 0;
    put(into, have, ahead_);
    ahead_.clear();
    co_await read_on(into, have, most, std::move(came));
  }

  // Forgets what was read ahead.
  void forget() { ahead_.clear(); }
  boost::asio::mutable_buffer scratch() { return boost::asio::buffer(chunk_); }

  Stream stream;

 private:
  static constexpr std::size_t chunk_bytes = std::size_t{64} << 10U;

  // The rest of an answer of which `have` bytes are in the buffer. It is not cleared but overwritten: making it smaller
  // and larger again would fill it with zeros each time.
  template <class Came>
  task<> read_on(Buffer& into, std::size_t have, std::size_t most, Came came) {
    socket::Framer framer(socket::Direction::response, most);
    try {
      for (;;) {
        const auto found = framer.scan(std::string_view(into.data(), have));
        if (!found.fault.empty()) bad(into.substr(0, have), found.fault);
        if (found.complete) {
          ahead_.assign(into, found.consumed, have - found.consumed);
          into.resize(found.message_bytes);
          co_return;
        }
        if (found.missing > chunk_bytes) {
          const std::size_t end = have + found.missing;
          if (into.size() < end) into.resize(end);
          while (have < end) {
            have += co_await read_some(boost::asio::buffer(into.data() + have, end - have));
            came(std::string_view(into.data(), have));
          }
        } else {
          const std::size_t count = co_await read_some(boost::asio::buffer(chunk_));
          put(into, have, std::string_view(chunk_.data(), count));
          came(std::string_view(into.data(), have));
        }
      }
    } catch (...) {
      into.resize(have);  // what came so far, for the message about it
      throw;
    }
  }

  task<std::size_t> read_some(boost::asio::mutable_buffer buffer) {
    boost::system::error_code error;
    const std::size_t count =
        co_await stream.async_read_some(buffer, boost::asio::redirect_error(boost::asio::use_awaitable, error));
    if (error) fail_with(error, false, where_, "while reading");
    co_return count;
  }

  static void put(Buffer& into, std::size_t& have, std::string_view bytes) {
    if (into.size() < have + bytes.size()) into.resize(have + bytes.size());
    bytes.copy(into.data() + have, bytes.size());
    have += bytes.size();
  }

  [[noreturn]] void bad(const Buffer& into, const std::string& why) const {
    base::ErrorRecord record;
    record.code = base::ErrorCode::bad_answer;
    record.where = where_;
    record.message = why;
    record.received = into.substr(0, 400);
    record.expected = "a response message that ends with NL";
    record.advice = "ask again; if it stays so, ask for fewer points";
    throw TransportError(std::move(record));
  }

  const std::string& where_;
  std::vector<char> chunk_;
  std::size_t sent_ = 0;  // of the message that write() is to send
  Buffer ahead_;          // came behind the end of the last answer
};

}  // namespace eyelevel::transport::detail
