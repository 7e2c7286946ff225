// SPDX-License-Identifier: Apache-2.0
// From what was heard on the network to resource names (VPP-4.3, 4.3.1): services announced by multicast DNS, hosts
// that answered the VXI-11 broadcast. What cannot be used is told with the reason. No I/O.
#pragma once

#include <boost/asio/ip/address.hpp>

#include <string>
#include <vector>

#include "instruments/find/broadcast/search.hpp"
#include "instruments/find/interfaces.hpp"
#include "instruments/find/mdns/browser.hpp"
#include "instruments/find/sighting.hpp"

namespace eyelevel::find {

// The address to use: one in a network of this computer before others, IPv4 before IPv6. `addresses` is not empty.
boost::asio::ip::address best_address(const std::vector<boost::asio::ip::address>& addresses,
                                      const std::vector<Interface>& interfaces);

Seen collect(const mdns::Browsed& browsed, const std::vector<Interface>& interfaces);
Seen collect(const broadcast::Searched& searched);

}  // namespace eyelevel::find
