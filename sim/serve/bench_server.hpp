// SPDX-License-Identifier: Apache-2.0
// Serves the instruments of a simulated bench on real ports, each by every LAN transport at once, until stopped: raw
// sockets, each on its own port; one HiSLIP port and one VXI-11 portmapper for all, where each has its LAN device name.
// Not for what stands on the bench (whoever calls makes the devices) and not for printing. One loop, one thread.
#pragma once

#include <boost/asio/any_io_executor.hpp>

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/base/timeline.hpp"
#include "instruments/transport/device.hpp"
#include "instruments/transport/hislip/security.hpp"
#include "instruments/transport/resource_name.hpp"

namespace eyelevel::sim {

struct ToServe {
  std::string name;  // "scope"
  std::string kind;  // "oscilloscope", "multimeter"
  std::shared_ptr<transport::Device> device;
  transport::ResourceName resource;  // as the bench file has it: its port or its LAN device name is kept
};

struct ServedInstrument {
  std::string name;
  std::string kind;
  std::vector<std::string> resources;  // canonical names
};

struct Serving {
  std::string address = "127.0.0.1";
  bool any_port = false;  // free ports, not those of the bench file and of the standards
  std::optional<transport::hislip::Security> hislip_security = {};  // none: HiSLIP is not encrypted
};

class BenchServer {
 public:
  // Begins to listen. The first instrument is inst0 and hislip0, the next inst1 and hislip1, where the bench file does
  // not say otherwise. Throws TransportError(no_connection) for a port that the bench file names and that cannot be
  // had.
  BenchServer(const boost::asio::any_io_executor& executor, base::Timeline& timeline, std::vector<ToServe> instruments,
              const Serving& serving = {});
  BenchServer(const BenchServer&) = delete;
  BenchServer& operator=(const BenchServer&) = delete;
  ~BenchServer();

  const std::vector<ServedInstrument>& instruments() const;
  // Transports that are not served, each with its reason: VXI-11 wants port 111, which needs rights and may be taken.
  const std::vector<std::string>& obstacles() const;
  std::uint16_t hislip_port() const;  // 0: not served
  bool has_vxi11() const;
  void stop() noexcept;

 private:
  struct Servers;
  std::unique_ptr<Servers> servers_;
};

}  // namespace eyelevel::sim
