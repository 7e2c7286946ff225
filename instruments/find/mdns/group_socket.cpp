// SPDX-License-Identifier: Apache-2.0
#include "instruments/find/mdns/group_socket.hpp"

#include <netinet/in.h>
#include <sys/socket.h>

#include <boost/asio/ip/multicast.hpp>
#include <boost/asio/ip/v6_only.hpp>
#include <boost/asio/socket_base.hpp>

#include <algorithm>
#include <cerrno>

#include "instruments/transport/error.hpp"

namespace eyelevel::find::mdns {
namespace asio = boost::asio;
namespace ip = asio::ip;
using ip::udp;
namespace {

constexpr int ttl = 255;  // RFC 6762, 11

// A failed step names itself and the interface.
struct Steps {
  const Interface& interface;

  void done(const boost::system::error_code& error, std::string_view what) const {
    if (error) transport::fail_with(error, true, "interface " + interface.name, what);
  }

  template <class T>
  void set(const udp::socket& socket, int level, int option, const T& value, std::string_view what) const {
    // The handle belongs to the socket; Asio has no option for these.
    auto& handle = const_cast<udp::socket&>(socket);  // NOLINT(cppcoreguidelines-pro-type-const-cast)
    if (::setsockopt(handle.native_handle(), level, option, &value, sizeof value) != 0)
      done({errno, boost::system::system_category()}, what);
  }
};

udp::socket opened(const asio::any_io_executor& executor, Family family, const Steps& steps) {
  udp::socket socket(executor);
  boost::system::error_code error;
  socket.open(family == Family::v4 ? udp::v4() : udp::v6(), error);
  steps.done(error, "cannot open a datagram socket");
  if (family == Family::v6) {
    socket.set_option(ip::v6_only(true), error);
    steps.done(error, "cannot keep IPv6 to itself");
  }
  return socket;
}

// Where it sends to, and that what is sent is heard on this computer, too.
void aim(udp::socket& socket, Family family, const Steps& steps) {
  boost::system::error_code error;
  if (family == Family::v4) {
    ip_mreqn request{};
    request.imr_ifindex = static_cast<int>(steps.interface.index);
    // Without it, what is sent on loopback would have the address of another interface.
    request.imr_address.s_addr = htonl(steps.interface.v4.front().address.to_uint());
    steps.set(socket, IPPROTO_IP, IP_MULTICAST_IF, request, "cannot send to the group 224.0.0.251");
  } else {
    socket.set_option(ip::multicast::outbound_interface(steps.interface.index), error);
    steps.done(error, "cannot send to the group ff02::fb");
  }
  socket.set_option(ip::multicast::hops(ttl), error);
  steps.done(error, "cannot set the time to live");
  socket.set_option(ip::multicast::enable_loopback(true), error);
  steps.done(error, "cannot hear what is sent from here");
}

// A link-local address is that of the link; loopback has none.
ip::address_v6 own_v6(const Interface& interface) {
  const auto at =
      std::find_if(interface.v6.begin(), interface.v6.end(), [](const auto& one) { return one.is_link_local(); });
  return at != interface.v6.end() ? *at : interface.v6.front();
}

}  // namespace

bool has(const Interface& interface, Family family) {
  return family == Family::v4 ? !interface.v4.empty() : !interface.v6.empty();
}

udp::endpoint group(const Interface& interface, Family family, std::uint16_t port) {
  if (family == Family::v4) return {ip::make_address_v4("224.0.0.251"), port};
  auto address = ip::make_address_v6("ff02::fb");
  address.scope_id(interface.index);
  return {address, port};
}

udp::socket open_asker(const asio::any_io_executor& executor, const Interface& interface, Family family) {
  const Steps steps{interface};
  auto socket = opened(executor, family, steps);
  boost::system::error_code error;
  if (family == Family::v4)
    socket.bind({interface.v4.front().address, 0}, error);
  else
    socket.bind({own_v6(interface), 0}, error);
  steps.done(error, "cannot take a port");
  aim(socket, family, steps);
  return socket;
}

udp::socket open_member(const asio::any_io_executor& executor, const Interface& interface, Family family,
                        std::uint16_t port) {
  const Steps steps{interface};
  auto socket = opened(executor, family, steps);
  boost::system::error_code error;
  socket.set_option(asio::socket_base::reuse_address(true), error);
  steps.done(error, "cannot share the port of multicast DNS");
  const int yes = 1;
  const int no = 0;
  steps.set(socket, SOL_SOCKET, SO_REUSEPORT, yes, "cannot share the port of multicast DNS");
  // Bound to the group, it gets nothing else; and only what came by the interface on which it joined.
  const auto place = group(interface, family, port);
  socket.bind(place, error);
  steps.done(error, "cannot share the port of multicast DNS");
  if (family == Family::v4) {
    steps.set(socket, IPPROTO_IP, IP_MULTICAST_ALL, no, "cannot tell interfaces apart");
    ip_mreqn request{};
    request.imr_multiaddr.s_addr = htonl(place.address().to_v4().to_uint());
    request.imr_ifindex = static_cast<int>(interface.index);
    steps.set(socket, IPPROTO_IP, IP_ADD_MEMBERSHIP, request, "cannot join the group 224.0.0.251");
  } else {
    socket.set_option(ip::multicast::join_group(place.address().to_v6(), interface.index), error);
    steps.done(error, "cannot join the group ff02::fb");
  }
  aim(socket, family, steps);
  return socket;
}

}  // namespace eyelevel::find::mdns
