// SPDX-License-Identifier: Apache-2.0
// Looks for VXI-11 instruments that do not announce themselves: asks every portmapper of every network for the port of
// the core channel (RFC 1833, GETPORT; VXI-11 rev 1.0, B.3) by broadcast, on each interface, several times because
// datagrams get lost, and listens until the time is over. This computer itself is asked directly.
#pragma once

#include <boost/asio/ip/address_v4.hpp>

#include <cstdint>
#include <string>
#include <vector>

#include "core/base/timeline.hpp"
#include "instruments/find/interfaces.hpp"

namespace eyelevel::find::broadcast {

inline constexpr std::size_t most_hosts = 1024;

struct Searched {
  std::vector<boost::asio::ip::address_v4> hosts;  // each once, in the order of their first answers
  std::vector<std::string> obstacles;              // "interface eth0: ...": what kept an interface from being asked
};

task<Searched> search(base::Timeline& timeline, std::vector<Interface> interfaces, base::Duration within,
                      std::uint16_t port = 111);

}  // namespace eyelevel::find::broadcast
