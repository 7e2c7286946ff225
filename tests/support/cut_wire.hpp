// SPDX-License-Identifier: Apache-2.0
// A wire between client and server on this computer that lets a given number of the server's bytes through, counted
// over all connections, and then holds, loses or cuts what follows, until it is healed. For walks over every byte of an
// exchange. One thread; it lives as long as anything is under way.
#pragma once

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <list>
#include <memory>

#include "core/base/gong.hpp"
#include "core/base/task.hpp"

namespace eyelevel::test {

class CutWire {
 public:
  enum class Then { hold, lose, close };

  CutWire(const boost::asio::any_io_executor& executor, std::uint16_t server_port)
      : state_(std::make_shared<State>(executor, server_port)) {
    boost::asio::co_spawn(executor, accept(state_), boost::asio::detached);
  }
  CutWire(const CutWire&) = delete;
  CutWire& operator=(const CutWire&) = delete;
  ~CutWire() {
    boost::system::error_code closed;
    state_->acceptor.close(closed);
    for (auto& pair : state_->pairs) close(*pair);
    heal();
  }

  std::uint16_t port() const { return state_->acceptor.local_endpoint().port(); }
  void cut_after(std::size_t bytes, Then then) {
    state_->left = bytes;
    state_->then = then;
  }
  void heal() {
    state_->left = unlimited;
    state_->healed.strike();
  }
  // Of the server's bytes, so far.
  std::size_t passed() const { return state_->passed; }

 private:
  using tcp = boost::asio::ip::tcp;
  static constexpr std::size_t unlimited = std::numeric_limits<std::size_t>::max();

  struct Pair {
    explicit Pair(tcp::socket from) : client(std::move(from)), server(client.get_executor()) {}
    tcp::socket client;
    tcp::socket server;
  };
  struct State {
    State(const boost::asio::any_io_executor& executor, std::uint16_t port)
        : acceptor(executor, tcp::endpoint(boost::asio::ip::address_v4::loopback(), 0)), server_port(port) {}
    tcp::acceptor acceptor;
    std::uint16_t server_port;
    std::size_t left = unlimited;
    std::size_t passed = 0;
    Then then = Then::hold;
    base::Gong healed;
    std::list<std::shared_ptr<Pair>> pairs;
  };

  static void close(Pair& pair) {
    boost::system::error_code closed;
    pair.client.close(closed);
    pair.server.close(closed);
  }

  static task<> accept(std::shared_ptr<State> state) {
    for (;;) {
      auto [error, socket] = co_await state->acceptor.async_accept(boost::asio::as_tuple(boost::asio::use_awaitable));
      if (error) co_return;
      auto pair = std::make_shared<Pair>(std::move(socket));
      state->pairs.push_back(pair);
      boost::asio::co_spawn(state->acceptor.get_executor(), connect(state, pair), boost::asio::detached);
    }
  }

  static task<> connect(std::shared_ptr<State> state, std::shared_ptr<Pair> pair) {
    boost::system::error_code error;
    co_await pair->server.async_connect({boost::asio::ip::address_v4::loopback(), state->server_port},
                                        boost::asio::redirect_error(boost::asio::use_awaitable, error));
    if (error) {
      close(*pair);
      co_return;
    }
    pair->client.set_option(tcp::no_delay(true), error);
    pair->server.set_option(tcp::no_delay(true), error);
    const auto executor = state->acceptor.get_executor();
    boost::asio::co_spawn(executor, to_server(pair), boost::asio::detached);
    boost::asio::co_spawn(executor, to_client(state, pair), boost::asio::detached);
  }

  static task<> to_server(std::shared_ptr<Pair> pair) {
    std::array<char, 65536> chunk;
    boost::system::error_code error;
    while (!error) {
      const std::size_t count = co_await pair->client.async_read_some(
          boost::asio::buffer(chunk), boost::asio::redirect_error(boost::asio::use_awaitable, error));
      if (error) break;
      co_await boost::asio::async_write(pair->server, boost::asio::buffer(chunk, count),
                                        boost::asio::redirect_error(boost::asio::use_awaitable, error));
    }
    close(*pair);
  }

  static task<> to_client(std::shared_ptr<State> state, std::shared_ptr<Pair> pair) {
    std::array<char, 65536> chunk;
    boost::system::error_code error;
    while (!error) {
      const std::size_t count = co_await pair->server.async_read_some(
          boost::asio::buffer(chunk), boost::asio::redirect_error(boost::asio::use_awaitable, error));
      for (std::size_t at = 0; at < count && !error;) {
        const std::size_t now = std::min(count - at, state->left);
        co_await boost::asio::async_write(pair->client, boost::asio::buffer(chunk.data() + at, now),
                                          boost::asio::redirect_error(boost::asio::use_awaitable, error));
        at += now;
        state->passed += now;
        if (state->left != unlimited) state->left -= std::min(now, state->left);  // it may be cut anew meanwhile
        if (at == count || error) break;
        if (state->then == Then::lose) break;
        if (state->then == Then::close) {
          close(*pair);
          co_return;
        }
        while (state->left == 0) co_await state->healed.wait();
      }
    }
    close(*pair);
  }

  std::shared_ptr<State> state_;
};

}  // namespace eyelevel::test
