// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/socket/client.hpp"

#include <fmt/format.h>

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/connect.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>

#include <algorithm>
#include <array>
#include <vector>

#include "instruments/transport/error.hpp"
#include "instruments/transport/socket/codec.hpp"

namespace eyelevel::transport::socket {
namespace asio = boost::asio;
using asio::ip::tcp;
namespace {

constexpr std::size_t chunk_bytes = std::size_t{64} << 10U;

class SocketLink final : public Link {
 public:
  SocketLink(const asio::any_io_executor& executor, ResourceName name)
      : socket_(executor), name_(std::move(name)), text_(name_.canonical()), chunk_(chunk_bytes) {}

  const std::string& resource_name() const override { return text_; }

  task<> open() {
    boost::system::error_code error;
    const auto endpoints = co_await resolved();
    co_await asio::async_connect(socket_, endpoints, asio::redirect_error(asio::use_awaitable, error));
    if (error) fail_with(error, true, text_, fmt::format("cannot connect to port {}", name_.port));
    // Without this, short messages wait for an acknowledgement of up to 40 ms.
    socket_.set_option(tcp::no_delay(true), error);
    if (!error) socket_.set_option(asio::socket_base::keep_alive(true), error);
    if (error) fail_with(error, true, text_, "cannot prepare the connection");
  }

  task<> write(std::string_view message) override {
    discard_stale();
    static constexpr std::string_view end = "\n";
    const std::array<asio::const_buffer, 2> both{asio::buffer(message.data(), message.size()),
                                                 asio::buffer(end.data(), end.size())};
    boost::system::error_code error;
    co_await asio::async_write(socket_, both, asio::redirect_error(asio::use_awaitable, error));
    if (error) fail_with(error, false, text_, "while sending");
  }

  // The buffer is not cleared but overwritten: making it smaller and larger again would fill it with zeros each time.
  task<> read(Buffer& into, std::size_t most) override {
    std::size_t have = 0;
    put(into, have, ahead_);
    ahead_.clear();
    Framer framer(Direction::response, most);
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
          while (have < end) have += co_await read_some(asio::buffer(into.data() + have, end - have));
        } else {
          put(into, have, std::string_view(chunk_.data(), co_await read_some(asio::buffer(chunk_))));
        }
      }
    } catch (...) {
      into.resize(have);  // what came so far, for the message about it
      throw;
    }
  }

  task<> clear() override {
    close();
    ahead_.clear();
    co_await open();
  }

  void close() noexcept override {
    boost::system::error_code closed;  // nothing can be done about a failing close
    socket_.close(closed);
  }

 private:
  task<std::vector<tcp::endpoint>> resolved() {
    boost::system::error_code error;
    std::string host = name_.host;
    if (host.starts_with('[')) host = host.substr(1, host.size() - 2);
    const auto address = asio::ip::make_address(host, error);
    if (!error) co_return std::vector{tcp::endpoint(address, name_.port)};
    tcp::resolver resolver(socket_.get_executor());
    const auto found = co_await resolver.async_resolve(host, std::to_string(name_.port),
                                                       asio::redirect_error(asio::use_awaitable, error));
    if (error) fail_with(error, true, text_, fmt::format("the name {} cannot be resolved", host));
    std::vector<tcp::endpoint> endpoints;
    for (const auto& entry : found) endpoints.push_back(entry.endpoint());
    co_return endpoints;
  }

  // Bytes that are there before the next message is sent answer nothing that will be asked.
  void discard_stale() {
    ahead_.clear();
    boost::system::error_code error;
    while (socket_.available(error) > 0 && !error)
      if (socket_.read_some(asio::buffer(chunk_), error) == 0) break;
  }

  task<std::size_t> read_some(asio::mutable_buffer buffer) {
    boost::system::error_code error;
    const std::size_t count =
        co_await socket_.async_read_some(buffer, asio::redirect_error(asio::use_awaitable, error));
    if (error) fail_with(error, false, text_, "while reading");
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
    record.where = text_;
    record.message = why;
    record.received = into.substr(0, 400);
    record.expected = "a response message that ends with NL";
    record.advice = "ask again; if it stays so, ask for fewer points";
    throw TransportError(std::move(record));
  }

  tcp::socket socket_;
  ResourceName name_;
  std::string text_;
  std::vector<char> chunk_;
  Buffer ahead_;  // came behind the end of the last answer
};

}  // namespace

task<std::unique_ptr<Link>> connect(ResourceName name) {
  const auto executor = co_await asio::this_coro::executor;
  auto link = std::make_unique<SocketLink>(executor, std::move(name));
  co_await link->open();
  co_return link;
}

}  // namespace eyelevel::transport::socket
