// SPDX-License-Identifier: Apache-2.0
// The network interfaces of this computer, as discovery needs them: each is searched by itself, because the operating
// system would choose only one for a group or broadcast address.
#pragma once

#include <boost/asio/ip/address.hpp>

#include <optional>
#include <string>
#include <vector>

namespace eyelevel::find {

struct Interface {
  struct V4 {
    boost::asio::ip::address_v4 address;
    boost::asio::ip::address_v4 mask;
    std::optional<boost::asio::ip::address_v4> broadcast;  // directed; none on loopback and point to point
  };

  std::string name;
  unsigned index = 0;
  bool up = false;
  bool loopback = false;
  std::vector<V4> v4;
  std::vector<boost::asio::ip::address_v6> v6;  // link-local ones carry the interface as their scope

  // An address of the same network: it is reached through this interface without a router.
  bool reaches(const boost::asio::ip::address& address) const;
};

// In the order of the system; those that are down are among them. Throws TransportError when the system gives no list.
std::vector<Interface> interfaces();

}  // namespace eyelevel::find
