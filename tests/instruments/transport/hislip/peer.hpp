// SPDX-License-Identifier: Apache-2.0
// The other side of a HiSLIP session, message by message, for tests of client and server.
#pragma once

#include <catch2/catch.hpp>

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <exception>
#include <functional>
#include <memory>
#include <string>

#include "core/base/gong.hpp"
#include "core/base/task.hpp"
#include "instruments/transport/hislip/channel.hpp"
#include "instruments/transport/resource_name.hpp"

namespace eyelevel::test {

using transport::hislip::Channel;
using transport::hislip::Header;
using transport::hislip::MessageType;

struct Message {
  Header header;
  std::string payload;
};

// The next message with its whole payload; the test fails when none comes.
inline task<Message> next_message(Channel& channel) {
  Message message;
  const auto error = co_await channel.next(message.header);
  if (error == boost::asio::error::operation_aborted) throw boost::system::system_error(error);
  INFO(error.message() << " " << channel.fault());
  REQUIRE_FALSE(error);
  REQUIRE_FALSE(co_await channel.read_short_payload(message.payload));
  co_return message;
}

inline task<Message> next_message(Channel& channel, MessageType expected) {
  auto message = co_await next_message(channel);
  INFO("came " << name_of(message.header.type) << " \"" << message.payload << "\", expected " << name_of(expected));
  REQUIRE((message.header.type == expected));
  co_return message;
}

inline task<> send_message(Channel& channel, Header header, std::string payload = {}) {
  REQUIRE_FALSE(co_await channel.send(header, payload));
}

// Nothing more comes: the other side has closed.
inline task<bool> is_closed(Channel& channel) {
  Header header;
  co_return static_cast<bool>(co_await channel.next(header));
}

inline task<Channel> connected(std::uint16_t port) {
  Channel channel(co_await boost::asio::this_coro::executor);
  co_await channel.socket().async_connect({boost::asio::ip::address_v4::loopback(), port}, boost::asio::use_awaitable);
  REQUIRE_FALSE(channel.prepare());
  co_return channel;
}

// A client of both connections, initialised.
struct RawClient {
  Channel sync;
  Channel async;
  Message initialize_response;
};

inline task<RawClient> raw_client(std::uint16_t port, std::string sub_address = "hislip0",
                                  std::uint16_t version = transport::hislip::version_2_0) {
  using namespace transport::hislip;
  Channel sync = co_await connected(port);
  co_await send_message(sync, {MessageType::initialize, 0, initialize_parameter(version, "QQ")}, sub_address);
  auto response = co_await next_message(sync, MessageType::initialize_response);
  Channel async = co_await connected(port);
  co_await send_message(async, {MessageType::async_initialize, 0, session_in(response.header.parameter)});
  co_await next_message(async, MessageType::async_initialize_response);
  co_return RawClient{std::move(sync), std::move(async), std::move(response)};
}

// A server that accepts one connection after the other and plays a part; what the part throws fails the test.
class PlayedServer {
 public:
  using Accept = std::function<task<Channel>()>;
  using Part = std::function<task<>(Accept)>;

  PlayedServer(const boost::asio::any_io_executor& executor, Part part) : state_(std::make_shared<State>(executor)) {
    state_->part = std::move(part);
    boost::asio::co_spawn(executor, play(state_), [state = state_](const std::exception_ptr& error) {
      state->failure = error;
      state->done = true;
      state->ended.strike();
    });
  }
  PlayedServer(const PlayedServer&) = delete;
  PlayedServer& operator=(const PlayedServer&) = delete;
  ~PlayedServer() {
    boost::system::error_code closed;
    state_->acceptor.close(closed);
  }

  std::uint16_t port() const { return state_->acceptor.local_endpoint().port(); }
  transport::ResourceName name() const {
    return transport::parse_resource_name("TCPIP::127.0.0.1::hislip0," + std::to_string(port()) + "::INSTR");
  }
  // Returns when the part is played to its end.
  task<> ended() {
    const auto state = state_;
    while (!state->done) co_await state->ended.wait();
    if (state->failure) std::rethrow_exception(state->failure);
  }

 private:
  using tcp = boost::asio::ip::tcp;
  struct State {
    explicit State(const boost::asio::any_io_executor& executor)
        : acceptor(executor, tcp::endpoint(boost::asio::ip::address_v4::loopback(), 0)) {}
    tcp::acceptor acceptor;
    Part part;
    base::Gong ended;
    bool done = false;
    std::exception_ptr failure;
  };

  static task<Channel> accept_one(std::shared_ptr<State> state) {
    Channel channel(co_await state->acceptor.async_accept(boost::asio::use_awaitable));
    REQUIRE_FALSE(channel.prepare());
    co_return channel;
  }
  static task<> play(std::shared_ptr<State> state) {
    co_await state->part([state]() { return accept_one(state); });
  }

  std::shared_ptr<State> state_;
};

struct Announced {
  std::uint8_t flags = 0;
  std::uint16_t version = transport::hislip::version_1_0;
  std::uint64_t size = 1U << 20U;
};

// The server's half of the initialisation, up to the answer to AsyncMaximumMessageSize.
inline task<RawClient> welcome(PlayedServer::Accept accept, Announced announced = {}) {
  using namespace transport::hislip;
  Channel sync = co_await accept();
  auto hello = co_await next_message(sync, MessageType::initialize);
  co_await send_message(
      sync, {MessageType::initialize_response, announced.flags, initialize_response_parameter(announced.version, 7)});
  Channel async = co_await accept();
  const auto second = co_await next_message(async, MessageType::async_initialize);
  CHECK(second.header.parameter == 7);
  co_await send_message(async, {MessageType::async_initialize_response, 0, initialize_parameter(0, "QQ")});
  const auto size = co_await next_message(async, MessageType::async_maximum_message_size);
  CHECK(read_size(size.payload) == most_payload_bytes + header_bytes);
  const auto ours = encode_size(announced.size);
  co_await send_message(async, {MessageType::async_maximum_message_size_response}, {ours.data(), ours.size()});
  co_return RawClient{std::move(sync), std::move(async), std::move(hello)};
}

}  // namespace eyelevel::test
