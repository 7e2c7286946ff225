// SPDX-License-Identifier: Apache-2.0
#include "instruments/find/collect.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "instruments/transport/resource_name.hpp"

namespace eyelevel::find {
namespace ip = boost::asio::ip;
namespace {

bool is_near(const ip::address& address, const std::vector<Interface>& interfaces) {
  return std::any_of(interfaces.begin(), interfaces.end(),
                     [&](const Interface& one) { return one.up && one.reaches(address); });
}

std::string value_of(const mdns::Service& service, const char* key) {
  const auto at = service.txt.find(key);
  return at == service.txt.end() ? std::string() : at->second;
}

// Keys of the LXI Device Specification 1.5, chapter on mDNS.
Identity identity_of(const mdns::Service& service) {
  return {value_of(service, "manufacturer"), value_of(service, "model"), value_of(service, "serialnumber"),
          value_of(service, "firmwareversion")};
}

std::string resource_of(const mdns::Service& service, const ip::address& address) {
  transport::ResourceName name;
  name.host = address.is_v6() ? "[" + address.to_string() + "]" : address.to_string();
  name.port = service.port;
  if (service.type == "_hislip._tcp") {
    name.carrier = transport::Carrier::hislip;
    name.device = "hislip0";
  } else if (service.type == "_vxi-11._tcp") {
    name.carrier = transport::Carrier::vxi11;
    name.device = "inst0";
    name.port = 0;
  } else if (service.type == "_scpi-raw._tcp") {
    name.carrier = transport::Carrier::socket;
  } else {
    return {};
  }
  return name.canonical();
}

// A web page alone is a printer, a router, a camera: an instrument only if it says what it is.
bool is_instrument(const mdns::Service& service) {
  return service.type != "_http._tcp" || identity_of(service).complete();
}

std::string networks_of(const std::vector<Interface>& interfaces) {
  std::vector<std::string> own;
  for (const auto& one : interfaces)
    if (one.up && !one.loopback)
      for (const auto& v4 : one.v4) own.push_back(fmt::format("{} ({})", v4.address.to_string(), one.name));
  return own.empty() ? "none" : fmt::format("{}", fmt::join(own, ", "));
}

}  // namespace

ip::address best_address(const std::vector<ip::address>& addresses, const std::vector<Interface>& interfaces) {
  const auto rank = [&](const ip::address& address) {
    return (is_near(address, interfaces) ? 0 : 2) + (address.is_v4() ? 0 : 1);
  };
  return *std::min_element(addresses.begin(), addresses.end(),
                           [&](const auto& one, const auto& other) { return rank(one) < rank(other); });
}

Seen collect(const mdns::Browsed& browsed, const std::vector<Interface>& interfaces) {
  Seen seen;
  for (const auto& service : browsed.services) {
    if (!is_instrument(service)) continue;
    const auto address = best_address(service.addresses, interfaces);
    Sighting one;
    one.host = address.to_string();
    one.instance = service.instance;
    one.seen_by = "mDNS " + service.type;
    one.identity = identity_of(service);
    if (service.port == 0 && (service.type == "_hislip._tcp" || service.type == "_scpi-raw._tcp")) {
      seen.unusable.push_back(
          {printable(service.instance) + " at " + one.host,
           "announces " + service.type + " at port 0, which is no port",
           "look for the port in the instrument's network menu: TCPIP::" + one.host + "::port::SOCKET"});
    } else {
      one.resource = resource_of(service, address);
    }
    if (!is_near(address, interfaces))
      one.doubt = fmt::format("its address {} is in no network of this computer, which has {}", one.host,
                              networks_of(interfaces));
    seen.sightings.push_back(std::move(one));
  }
  for (const auto& name : browsed.unresolved)
    seen.unusable.push_back({name, "announces itself by multicast DNS, but did not answer where it is",
                             "ask once more with a longer --within; switch the instrument's network off and on"});
  for (const auto& bad : browsed.bad)
    seen.unusable.push_back({bad.from, "sent a multicast DNS message that cannot be read: " + bad.fault,
                             "if it is an instrument, give its resource name: TCPIP::" + bad.from + "::INSTR"});
  if (browsed.overflowed)
    seen.unusable.push_back({"multicast DNS",
                             fmt::format("more than {} services or hosts announce themselves; the rest was left out",
                                         std::min(mdns::most_instances, mdns::most_hosts)),
                             "look from a smaller network"});
  return seen;
}

Seen collect(const broadcast::Searched& searched) {
  Seen seen;
  for (const auto& host : searched.hosts) {
    transport::ResourceName name;
    name.carrier = transport::Carrier::vxi11;
    name.host = host.to_string();
    name.device = "inst0";
    Sighting one;
    one.host = name.host;
    one.resource = name.canonical();
    one.seen_by = "VXI-11 broadcast";
    seen.sightings.push_back(std::move(one));
  }
  return seen;
}

}  // namespace eyelevel::find
