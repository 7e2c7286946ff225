// SPDX-License-Identifier: Apache-2.0
// The server of VXI-11 rev 1.0: portmapper, core channel, abort channel and interrupt channels for any number of
// devices on one address. Several clients, several links on each connection; links, locks and interrupt channels die
// with their connection. A link has a message exchange of its own, so that two clients do not disturb each other; the
// device's status is shared. Runs on the given executor's thread and waits on the given Timeline.
#pragma once

#include <boost/asio/any_io_executor.hpp>

#include <cstddef>
#include <cstdint>
#include <map>
#include <memory>
#include <string>
#include <string_view>

#include "core/base/timeline.hpp"
#include "instruments/transport/device.hpp"

namespace eyelevel::transport::vxi11 {

struct Listen {
  std::string address = "127.0.0.1";
  std::uint16_t portmapper_port = 0;  // 0: any free one; clients that nobody here wrote look at 111
  std::uint16_t core_port = 0;
  std::uint32_t most_receive_bytes = std::uint32_t{1} << 20U;  // of one device_write; clients are told (maxRecvSize)
  std::uint32_t most_read_bytes = std::uint32_t{1} << 30U;     // of one device_read; what a small instrument would have
  std::size_t most_message_bytes = std::size_t{128} << 20U;
  std::size_t most_links = 256;
};

using Devices = std::map<std::string, std::shared_ptr<Device>, std::less<>>;  // by LAN device name: "inst0", "inst1"

class Vxi11Server {
 public:
  // Throws TransportError(no_connection) when a port cannot be had.
  Vxi11Server(const boost::asio::any_io_executor& executor, base::Timeline& timeline, Devices devices,
              const Listen& listen);
  Vxi11Server(const Vxi11Server&) = delete;
  Vxi11Server& operator=(const Vxi11Server&) = delete;
  ~Vxi11Server();

  std::uint16_t portmapper_port() const;
  std::uint16_t core_port() const;
  std::uint16_t abort_port() const;
  std::string resource_name(std::string_view device = "inst0") const;  // canonical; the portmapper's port is not in it
  std::size_t clients() const;
  std::size_t links() const;
  void stop() noexcept;  // closes every port and every conversation

  struct State;

 private:
  std::shared_ptr<State> state_;
};

}  // namespace eyelevel::transport::vxi11
