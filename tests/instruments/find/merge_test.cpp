// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include "instruments/find/merge.hpp"

using namespace eyelevel::find;

namespace {

// "host | resource | instance | identity"
Sighting sighting(std::string host, std::string resource, std::string instance = {}, std::string identity = {}) {
  Sighting one;
  one.host = std::move(host);
  one.resource = std::move(resource);
  one.instance = std::move(instance);
  one.seen_by = "test";
  one.identity = identity_of(identity);
  return one;
}

const std::string a = "192.0.2.1", b = "192.0.2.2";
const std::string a_hislip = "TCPIP0::192.0.2.1::hislip0::INSTR", a_vxi11 = "TCPIP0::192.0.2.1::inst0::INSTR",
                  a_5025 = "TCPIP0::192.0.2.1::5025::SOCKET", a_5026 = "TCPIP0::192.0.2.1::5026::SOCKET",
                  b_vxi11 = "TCPIP0::192.0.2.2::inst0::INSTR", usb = "USB0::0x1234::0x5678::S1::0::INSTR";
using Names = std::vector<std::string>;

// The instruments' resources, after gathering and after merging.
std::vector<Names> gathered(const std::vector<Sighting>& sightings) {
  std::vector<Names> out;
  for (const auto& one : gather(sightings)) out.push_back(one.resources);
  return out;
}
std::vector<Names> merged(const std::vector<Sighting>& sightings) {
  std::vector<Names> out;
  for (const auto& one : merge(gather(sightings))) out.push_back(one.resources);
  return out;
}

}  // namespace

TEST_CASE("merge: services of one name at one host are one instrument, best way first", "[find]") {
  const auto all = gather({sighting(a, a_5025, "scope"), sighting(a, a_vxi11, "scope"),
                           sighting(a, "", "scope", "m,x,S1,2"), sighting(a, a_hislip, "scope")});
  REQUIRE(all.size() == 1);
  CHECK(all[0].resources == Names{a_hislip, a_vxi11, a_5025});
  CHECK(all[0].identity.serial == "S1");
  CHECK(all[0].hosts == Names{a});
}

TEST_CASE("merge: a VXI-11 broadcast belongs to the host's only instrument", "[find]") {
  CHECK(gathered({sighting(a, a_vxi11), sighting(a, a_hislip, "scope")}) == std::vector<Names>{{a_hislip, a_vxi11}});
  CHECK(gathered({sighting(a, a_vxi11), sighting(b, b_vxi11)}) == std::vector<Names>{{a_vxi11}, {b_vxi11}});
}

TEST_CASE("merge: two instruments at one host stay two", "[find]") {
  const std::vector<Sighting> two = {sighting(a, a_5025, "scope"), sighting(a, a_5026, "meter")};
  CHECK(gathered(two) == std::vector<Names>{{a_5025}, {a_5026}});
  CHECK(merged(two) == std::vector<Names>{{a_5025}, {a_5026}});
  // Even under one name: one socket cannot be at two ports.
  CHECK(merged({sighting(a, a_5025, "x"), sighting(a, a_5026, "x")}) == std::vector<Names>{{a_5025}, {a_5026}});
  // The broadcast's inst0 may be either: only its serial number tells.
  CHECK(gathered({two[0], two[1], sighting(a, a_vxi11)}) == std::vector<Names>{{a_5025}, {a_5026}, {a_vxi11}});
  CHECK(merged({sighting(a, a_5025, "scope", "m,x,S1,1"), sighting(a, a_5026, "meter", "m,y,S2,1"),
                sighting(a, a_vxi11, "", "m,y,S2,1")}) == std::vector<Names>{{a_5025}, {a_vxi11, a_5026}});
}

TEST_CASE("merge: different names at one host, no serial numbers, different services: one instrument", "[find]") {
  CHECK(merged({sighting(a, a_5025, "scope (SCPI)"), sighting(a, a_hislip, "scope (HiSLIP)")}) ==
        std::vector<Names>{{a_hislip, a_5025}});
}

TEST_CASE("merge: equal serial numbers are one instrument, over USB and LAN and at two addresses", "[find]") {
  CHECK(merged({sighting(a, a_hislip, "scope", "M,Scope,s1,1"), sighting("", usb, "", "M Inc.,SCOPE,S1,")}) ==
        std::vector<Names>{{usb, a_hislip}});
  CHECK(merged({sighting(a, a_vxi11, "", "m,x,S1,1"), sighting(b, b_vxi11, "", "m,x,S1,1")}) ==
        std::vector<Names>{{a_vxi11, b_vxi11}});
}

TEST_CASE("merge: equal serial numbers of different models, or none at different hosts, are two instruments",
          "[find]") {
  CHECK(merged({sighting(a, a_vxi11, "", "m,x,1,1"), sighting(b, b_vxi11, "", "n,y,1,1")}).size() == 2);
  CHECK(merged({sighting(a, a_vxi11, "", "m,x,0,1"), sighting(b, b_vxi11, "", "m,x,0,1")}).size() == 2);
  CHECK(merged({sighting("", "ASRL1::INSTR"), sighting("", "ASRL2::INSTR")}).size() == 2);
}

TEST_CASE("merge: nothing seen is nothing found", "[find]") { CHECK(merged({}).empty()); }
