// SPDX-License-Identifier: Apache-2.0
// A TCP port and one coroutine for each client that comes: the portmapper, the core and the abort channel of the
// server, the interrupt channel of the client. Accepts from construction until stop(). Runs on the given executor's
// thread.
#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/ip/tcp.hpp>

#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <string>

#include "core/base/task.hpp"

namespace eyelevel::transport::vxi11 {

struct ListenOn {
  boost::asio::ip::address address;
  std::uint16_t port = 0;  // 0: any free one
  std::string what;        // "the core channel"
  std::size_t most_clients = 256;
};

class Listener {
 public:
  // Makes the coroutine that serves one client; it ends by itself, or by cancellation at stop().
  using Serve = std::function<task<>(boost::asio::ip::tcp::socket)>;

  // Throws TransportError(no_connection) that says what cannot be served where, and why.
  Listener(const boost::asio::any_io_executor& executor, const ListenOn& listen, Serve serve);
  Listener(const Listener&) = delete;
  Listener& operator=(const Listener&) = delete;
  ~Listener();

  std::uint16_t port() const;
  std::size_t clients() const;
  void stop() noexcept;

 private:
  struct State;
  std::shared_ptr<State> state_;
};

// "cannot serve the portmapper here: ..." with what to try; also for the portmapper's UDP port.
[[noreturn]] void fail_to_serve(const ListenOn& listen, const boost::system::error_code& error);

}  // namespace eyelevel::transport::vxi11
