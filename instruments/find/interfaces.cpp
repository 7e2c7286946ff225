// SPDX-License-Identifier: Apache-2.0
#include "instruments/find/interfaces.hpp"

#include <ifaddrs.h>
#include <net/if.h>
#include <netinet/in.h>
#include <sys/types.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <memory>
#include <system_error>

#include "instruments/transport/error.hpp"

namespace eyelevel::find {
namespace ip = boost::asio::ip;
namespace {

// The system's structures are copied out of memory that knows only their common beginning.
template <class T>
T copied(const sockaddr* from) {
  T out;
  std::memcpy(&out, from, sizeof out);
  return out;
}

ip::address_v4 v4_of(const sockaddr* from) { return ip::address_v4(ntohl(copied<sockaddr_in>(from).sin_addr.s_addr)); }

void add_v4(Interface& to, const ifaddrs& entry) {
  Interface::V4 one;
  one.address = v4_of(entry.ifa_addr);
  one.mask = entry.ifa_netmask != nullptr ? v4_of(entry.ifa_netmask) : ip::address_v4(0xFFFFFFFFU);
  if ((entry.ifa_flags & IFF_BROADCAST) != 0 && entry.ifa_broadaddr != nullptr)
    one.broadcast = v4_of(entry.ifa_broadaddr);
  to.v4.push_back(one);
}

void add_v6(Interface& to, const ifaddrs& entry) {
  const auto raw = copied<sockaddr_in6>(entry.ifa_addr);
  ip::address_v6::bytes_type bytes{};
  std::copy(std::begin(raw.sin6_addr.s6_addr), std::end(raw.sin6_addr.s6_addr), bytes.begin());
  to.v6.emplace_back(bytes, raw.sin6_scope_id);
}

}  // namespace

bool Interface::reaches(const ip::address& address) const {
  if (address.is_v6()) {
    const auto& wanted = address.to_v6();
    if (wanted.is_link_local()) return wanted.scope_id() == 0 || wanted.scope_id() == index;
    const auto bytes = wanted.to_bytes();
    return std::any_of(v6.begin(), v6.end(), [&](const auto& own) {
      const auto mine = own.to_bytes();
      return own == wanted || (!own.is_loopback() && std::equal(bytes.begin(), bytes.begin() + 8, mine.begin()));
    });
  }
  return std::any_of(v4.begin(), v4.end(), [&](const V4& own) {
    return ((own.address.to_uint() ^ address.to_v4().to_uint()) & own.mask.to_uint()) == 0;
  });
}

std::vector<Interface> interfaces() {
  ifaddrs* list = nullptr;
  if (getifaddrs(&list) != 0)
    transport::fail(base::ErrorCode::no_connection, "network interfaces",
                    "the system gives no list of them: " + std::generic_category().message(errno),
                    "give the instrument's address instead of looking for it");
  const std::unique_ptr<ifaddrs, void (*)(ifaddrs*)> owner(list, freeifaddrs);
  std::vector<Interface> all;
  for (const ifaddrs* entry = list; entry != nullptr; entry = entry->ifa_next) {
    auto at = std::find_if(all.begin(), all.end(), [&](const Interface& one) { return one.name == entry->ifa_name; });
    if (at == all.end()) {
      at = all.emplace(all.end());
      at->name = entry->ifa_name;
      at->index = if_nametoindex(entry->ifa_name);
      at->up = (entry->ifa_flags & IFF_UP) != 0;
      at->loopback = (entry->ifa_flags & IFF_LOOPBACK) != 0;
    }
    if (entry->ifa_addr == nullptr) continue;
    if (entry->ifa_addr->sa_family == AF_INET) add_v4(*at, *entry);
    if (entry->ifa_addr->sa_family == AF_INET6) add_v6(*at, *entry);
  }
  return all;
}

}  // namespace eyelevel::find
