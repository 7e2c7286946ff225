// SPDX-License-Identifier: Apache-2.0
// The ways of reaching an instrument that a program has, as a value: filled by whoever wires the program together,
// looked up by the kind of resource name. Adding a transport is one more entry.
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <string>
#include <string_view>

#include "core/base/timeline.hpp"
#include "instruments/transport/link.hpp"
#include "instruments/transport/memory/server.hpp"
#include "instruments/transport/resource_name.hpp"
#include "instruments/transport/serial/client.hpp"
#include "instruments/transport/session.hpp"

namespace eyelevel::transport {

using OpenFunction = std::function<task<std::unique_ptr<Link>>(ResourceName)>;

class Transports {
 public:
  void add(Carrier carrier, OpenFunction open) { open_[carrier] = std::move(open); }
  bool serves(Carrier carrier) const { return open_.contains(carrier); }

  // Parses the name and opens it; one deadline for all. Throws TransportError: bad_input (not a resource name),
  // no_connection (not served by this version, not reachable, or `within` passed).
  task<std::unique_ptr<Link>> open(std::string resource, base::Timeline& timeline, base::Duration within) const;
  task<std::unique_ptr<Session>> open_session(std::string resource, base::Timeline& timeline,
                                              base::Duration within) const;

 private:
  std::map<Carrier, OpenFunction> open_;
};

// Sockets.
void add_socket(Transports& transports);
// Serial ports; `line_of` says how each is set.
void add_serial(Transports& transports, std::function<serial::Line(const ResourceName&)> line_of);
// HiSLIP, synchronised mode.
void add_hislip(Transports& transports);
// The instruments of a simulated bench in this process.
void add_memory(Transports& transports, std::shared_ptr<const memory::MemoryServer> server);

}  // namespace eyelevel::transport
