// SPDX-License-Identifier: Apache-2.0
// Multicast DNS among the tests of one computer: on loopback alone, at a port that was free a moment ago, so that
// nothing real is asked and no other responder answers.
#pragma once

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/udp.hpp>

#include <algorithm>
#include <cstdint>
#include <vector>

#include "instruments/find/interfaces.hpp"

namespace eyelevel::test {

inline std::vector<find::Interface> loopback() {
  auto all = find::interfaces();
  std::erase_if(all, [](const auto& one) { return !one.loopback; });
  for (auto& one : all) one.v6.clear();  // whether ::1 has multicast depends on the system
  return all;
}

inline std::uint16_t free_port(boost::asio::io_context& loop) {
  using boost::asio::ip::udp;
  const udp::socket socket(loop, udp::endpoint(boost::asio::ip::address_v4::loopback(), 0));
  return socket.local_endpoint().port();
}

}  // namespace eyelevel::test
