// SPDX-License-Identifier: Apache-2.0
// Serves the instruments of a simulated bench on real TCP ports, each on its own, until stopped. Not for what stands on
// the bench (whoever calls makes the devices) and not for printing. One loop, one thread.
#pragma once

#include <boost/asio/any_io_executor.hpp>

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "instruments/transport/device.hpp"
#include "instruments/transport/socket/server.hpp"

namespace eyelevel::sim {

struct ServedInstrument {
  std::string name;
  std::string kind;                    // "oscilloscope", "multimeter"
  std::vector<std::string> resources;  // canonical names
};

class BenchServer {
 public:
  explicit BenchServer(boost::asio::any_io_executor executor, std::string address = "127.0.0.1");

  // Begins to listen; port 0 is any free one. Throws transport::TransportError(no_connection) naming the port.
  const ServedInstrument& serve(std::string name, std::string kind, std::shared_ptr<transport::Device> device,
                                std::uint16_t port = 0);
  const std::vector<ServedInstrument>& instruments() const { return instruments_; }
  void stop() noexcept;

 private:
  boost::asio::any_io_executor executor_;
  std::string address_;
  std::vector<ServedInstrument> instruments_;
  std::vector<std::unique_ptr<transport::socket::SocketServer>> servers_;
};

}  // namespace eyelevel::sim
