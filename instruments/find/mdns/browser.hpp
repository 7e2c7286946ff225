// SPDX-License-Identifier: Apache-2.0
// Asks every interface, over IPv4 and IPv6, for the services of instruments (RFC 6762, RFC 6763) and resolves what
// answers. Asked is from a port of its own, where answers come to the asker alone, and from the port of multicast DNS,
// for those who answer only the group. Several times, because datagrams get lost. Listens until the time is over.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "core/base/timeline.hpp"
#include "instruments/find/interfaces.hpp"
#include "instruments/find/mdns/catalogue.hpp"
#include "instruments/find/mdns/group_socket.hpp"

namespace eyelevel::find::mdns {

struct BadMessage {
  std::string from;
  std::string fault;
};

struct Browsed {
  std::vector<Service> services;
  std::vector<std::string> unresolved;  // names of which nobody said where they are
  std::vector<BadMessage> bad;          // one for each sender, 16 at most
  bool overflowed = false;              // more was announced than the catalogue holds
  std::vector<std::string> obstacles;   // "interface eth0: ...": what kept an interface from being asked
};

// `interfaces` are those to ask; one that cannot be asked becomes an obstacle.
task<Browsed> browse(base::Timeline& timeline, std::vector<Interface> interfaces, base::Duration within,
                     std::uint16_t port = usual_port);

}  // namespace eyelevel::find::mdns
