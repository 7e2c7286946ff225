// SPDX-License-Identifier: Apache-2.0
// The server of the raw socket transport: one device on one TCP port, several clients. Accepts from construction until
// stop(); a client that goes away cancels what it had under way. On raw TCP there is no request to talk, so the
// protocol errors -410 and -420 cannot be seen; answers are queued in order. Beside it the control connection that some
// instruments offer (no standard; SYSTem:COMMunicate:TCPip:CONTrol? tells its port): DCL NL is the device clear and is
// echoed when it is done; "SRQ +<status byte>" NL comes for each service request. Runs on the given executor's thread.
#pragma once

#include <boost/asio/any_io_executor.hpp>

#include <cstddef>
#include <cstdint>
#include <memory>
#include <string>

#include "instruments/transport/device.hpp"

namespace eyelevel::transport::socket {

struct Listen {
  std::string address = "127.0.0.1";
  std::uint16_t port = 0;  // 0: any free one
  std::size_t most_message_bytes = std::size_t{128} << 20U;
};

class SocketServer {
 public:
  // Throws TransportError(no_connection) when the port cannot be had.
  SocketServer(const boost::asio::any_io_executor& executor, std::shared_ptr<Device> device, const Listen& listen);
  SocketServer(const SocketServer&) = delete;
  SocketServer& operator=(const SocketServer&) = delete;
  ~SocketServer();

  std::uint16_t port() const;
  std::string resource_name() const;  // canonical
  std::uint16_t control_port() const;
  std::size_t clients() const;  // conversations, those of control among them
  void stop() noexcept;         // closes the port and every conversation

 private:
  struct State;
  std::shared_ptr<State> state_;
};

}  // namespace eyelevel::transport::socket
