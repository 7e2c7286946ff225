// SPDX-License-Identifier: Apache-2.0
// The server of the HiSLIP transport (IVI-6.1, versions 1.0 and 2.0): several devices by sub-address
// on one TCP port, several clients. Accepts from construction until stop(); a client that goes away cancels what it had
// under way and loses its locks; one that closes after Initialize was a probe. Runs on the given executor's thread.
#pragma once

#include <boost/asio/any_io_executor.hpp>

#include <cstddef>
#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "core/base/timeline.hpp"
#include "instruments/transport/device.hpp"
#include "instruments/transport/hislip/security.hpp"

namespace eyelevel::transport::hislip {

// By sub-address, without regard to case. The empty one is the default, which is `hislip0` too (6.1); where neither is
// there, who asks for the default gets the only one.
using Devices = std::map<std::string, std::shared_ptr<Device>>;

struct Listen {
  std::string address = "127.0.0.1";
  std::uint16_t port = 0;  // 0: any free one
  std::size_t most_message_bytes = std::size_t{128} << 20U;
  std::size_t most_clients = 64;
  bool prefer_overlapped = false;
  std::optional<Security> security = {};  // none: no encryption
};

class HislipServer {
 public:
  // The timeline limits waits for locks. Throws TransportError(no_connection) when the port cannot be had, and
  // Error(bad_input) when the certificate or its key is none.
  HislipServer(const boost::asio::any_io_executor& executor, base::Timeline& timeline, Devices devices,
               const Listen& listen);
  HislipServer(const HislipServer&) = delete;
  HislipServer& operator=(const HislipServer&) = delete;
  ~HislipServer();

  std::uint16_t port() const;
  std::string resource_name(std::string_view sub_address = "hislip0") const;  // canonical
  std::size_t clients() const;                                                // sessions, half-open ones too
  void stop() noexcept;                                                       // closes the port and every session

 private:
  struct State;
  std::shared_ptr<State> state_;
};

}  // namespace eyelevel::transport::hislip
