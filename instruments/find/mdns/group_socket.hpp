// SPDX-License-Identifier: Apache-2.0
// Sockets for multicast DNS (RFC 6762), one for each interface and address family, so that it is known where each
// datagram came from and goes to. They are opened here and nowhere else.
#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/ip/udp.hpp>

#include <cstdint>

#include "instruments/find/interfaces.hpp"

namespace eyelevel::find::mdns {

inline constexpr std::uint16_t usual_port = 5353;

enum class Family { v4, v6 };

bool has(const Interface& interface, Family family);

// 224.0.0.251 or ff02::fb on this interface (RFC 6762, 3).
boost::asio::ip::udp::endpoint group(const Interface& interface, Family family, std::uint16_t port);

// Sends from a port of its own; gets the answers that are meant for the asker alone (RFC 6762, 5.1). Both throw
// TransportError that names the interface.
boost::asio::ip::udp::socket open_asker(const boost::asio::any_io_executor& executor, const Interface& interface,
                                        Family family);
// Gets what is sent to the group on this interface and sends from the group's port, which it shares with every other
// program of this computer that speaks multicast DNS (RFC 6762, 15.1).
boost::asio::ip::udp::socket open_member(const boost::asio::any_io_executor& executor, const Interface& interface,
                                         Family family, std::uint16_t port);

}  // namespace eyelevel::find::mdns
