// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include "instruments/find/collect.hpp"

using namespace eyelevel::find;
namespace ip = boost::asio::ip;

namespace {

std::vector<Interface> bench_net() {
  Interface eth;
  eth.name = "eth0";
  eth.index = 999;  // no such interface: printed as a number
  eth.up = true;
  eth.v4.push_back({ip::make_address_v4("192.0.2.2"), ip::make_address_v4("255.255.255.0"), std::nullopt});
  return {eth};
}

mdns::Service service(std::string type, std::uint16_t port, std::vector<std::string> addresses = {"192.0.2.10"}) {
  mdns::Service one;
  one.type = std::move(type);
  one.instance = "scope";
  one.host = "box.local";
  one.port = port;
  for (const auto& text : addresses) one.addresses.push_back(ip::make_address(text));
  return one;
}

Seen seen(std::vector<mdns::Service> services) {
  mdns::Browsed browsed;
  browsed.services = std::move(services);
  return collect(browsed, bench_net());
}

}  // namespace

TEST_CASE("collect: each service becomes its resource name", "[find]") {
  // VPP-4.3, 4.3.1.
  const std::vector<std::tuple<std::string, std::uint16_t, std::string>> rows = {
      {"_hislip._tcp", 4880, "TCPIP0::192.0.2.10::hislip0::INSTR"},
      {"_hislip._tcp", 4881, "TCPIP0::192.0.2.10::hislip0,4881::INSTR"},
      {"_vxi-11._tcp", 111, "TCPIP0::192.0.2.10::inst0::INSTR"},
      {"_vxi-11._tcp", 0, "TCPIP0::192.0.2.10::inst0::INSTR"},
      {"_scpi-raw._tcp", 5025, "TCPIP0::192.0.2.10::5025::SOCKET"},
      {"_lxi._tcp", 80, ""},
      {"_lxi._tcp", 0, ""},  // RFC 6763, 8: a name without a service behind it
      {"_scpi-telnet._tcp", 5024, ""},
  };
  for (const auto& [type, port, resource] : rows) {
    const auto found = seen({service(type, port)});
    INFO(type);
    REQUIRE(found.sightings.size() == 1);
    CHECK(found.sightings[0].resource == resource);
    CHECK(found.sightings[0].host == "192.0.2.10");
    CHECK(found.sightings[0].instance == "scope");
    CHECK(found.sightings[0].doubt.empty());
    CHECK(found.unusable.empty());
  }
}

TEST_CASE("collect: identity comes from the TXT keys of LXI", "[find]") {
  auto lxi = service("_lxi._tcp", 80);
  lxi.txt = {{"manufacturer", "Lanternfield"}, {"model", "Scope"}, {"serialnumber", "S1"}, {"firmwareversion", "2"}};
  CHECK(seen({lxi}).sightings.at(0).identity == Identity{"Lanternfield", "Scope", "S1", "2"});
  // A web page that says the same is an instrument, one that does not is a printer or a router.
  auto page = lxi;
  page.type = "_http._tcp";
  CHECK(seen({page}).sightings.size() == 1);
  page.txt.clear();
  CHECK(seen({page}).sightings.empty());
}

TEST_CASE("collect: of several addresses the one in a network of this computer is used", "[find]") {
  CHECK(seen({service("_scpi-raw._tcp", 1, {"10.0.0.1", "192.0.2.77"})}).sightings.at(0).host == "192.0.2.77");
  CHECK(seen({service("_scpi-raw._tcp", 1, {"10.0.0.1", "fe80::1%999"})}).sightings.at(0).host == "fe80::1%999");
  const auto six = seen({service("_hislip._tcp", 4880, {"fe80::1%999"})});
  CHECK(six.sightings.at(0).resource == "TCPIP0::[fe80::1%999]::hislip0::INSTR");
}

TEST_CASE("collect: an address in no network of this computer is doubted, with both addresses", "[find]") {
  const auto found = seen({service("_scpi-raw._tcp", 5025, {"169.254.3.4"})});
  CHECK(found.sightings.at(0).doubt ==
        "its address 169.254.3.4 is in no network of this computer, which has 192.0.2.2 (eth0)");
}

TEST_CASE("collect: what cannot be used says why and what to try", "[find]") {
  mdns::Browsed browsed;
  browsed.services = {service("_scpi-raw._tcp", 0)};
  browsed.unresolved = {"lost._lxi._tcp.local"};
  browsed.bad = {{"192.0.2.66", "byte 12: question: a compression pointer"}};
  browsed.overflowed = true;
  const auto found = collect(browsed, bench_net());
  REQUIRE(found.unusable.size() == 4);
  CHECK(found.unusable[0].why.find("port 0") != std::string::npos);
  CHECK(found.unusable[1].what == "lost._lxi._tcp.local");
  CHECK(found.unusable[2].why.find("byte 12") != std::string::npos);
  for (const auto& one : found.unusable) {
    CHECK_FALSE(one.what.empty());
    CHECK_FALSE(one.attempt.empty());
  }
  CHECK(found.sightings.at(0).resource.empty());
}

TEST_CASE("collect: hosts of the VXI-11 broadcast become inst0", "[find]") {
  const auto found = collect(broadcast::Searched{{ip::make_address_v4("192.0.2.10")}, {}});
  REQUIRE(found.sightings.size() == 1);
  CHECK(found.sightings[0].resource == "TCPIP0::192.0.2.10::inst0::INSTR");
  CHECK(found.sightings[0].seen_by == "VXI-11 broadcast");
}
