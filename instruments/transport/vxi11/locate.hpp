// SPDX-License-Identifier: Apache-2.0
// From a host's name to a connection with its core channel: the name, the portmapper (TCP, or one datagram by UDP where
// TCP is refused; RFC 1833), the core channel's port. Errors name the step that failed, so that a firewall is told from
// an instrument that is switched off.
#pragma once

#include <boost/asio/ip/tcp.hpp>

#include <cstdint>
#include <string>

#include "core/base/task.hpp"

namespace eyelevel::transport::vxi11 {

struct Locate {
  std::string host;      // name or address; IPv6 in square brackets
  std::string resource;  // for errors
  std::uint16_t portmapper_port = 111;
};

// `step` tells at any time what is waited for: "the portmapper on port 111".
task<boost::asio::ip::tcp::socket> connect_to_core(Locate where, std::string& step);

// A connection to one more port of the same instrument; `what` names it.
task<boost::asio::ip::tcp::socket> connect_to(boost::asio::ip::address address, std::uint16_t port, std::string what,
                                              std::string resource);

}  // namespace eyelevel::transport::vxi11
