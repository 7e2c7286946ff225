// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include <algorithm>

#include "instruments/find/interfaces.hpp"

using namespace eyelevel::find;
namespace ip = boost::asio::ip;

TEST_CASE("interfaces: the list has each interface once, loopback with its address among them", "[find]") {
  const auto all = interfaces();
  const auto loopback = std::find_if(all.begin(), all.end(), [](const auto& one) { return one.loopback; });
  REQUIRE(loopback != all.end());
  CHECK(loopback->index > 0);
  if (loopback->up) {
    REQUIRE_FALSE(loopback->v4.empty());
    CHECK(loopback->v4[0].address.is_loopback());
    CHECK_FALSE(loopback->v4[0].broadcast);
  }
  for (const auto& one : all)
    CHECK(std::count_if(all.begin(), all.end(), [&](const auto& other) { return other.name == one.name; }) == 1);
}

TEST_CASE("interfaces: what is in the same network is reached, nothing else", "[find]") {
  Interface one;
  one.index = 3;
  one.v4.push_back({ip::make_address_v4("192.0.2.2"), ip::make_address_v4("255.255.255.0"), std::nullopt});
  one.v6.push_back(ip::make_address_v6("2001:db8::2"));
  CHECK(one.reaches(ip::make_address("192.0.2.254")));
  CHECK_FALSE(one.reaches(ip::make_address("192.0.3.1")));
  CHECK(one.reaches(ip::make_address("2001:db8::77")));
  CHECK_FALSE(one.reaches(ip::make_address("2001:db9::77")));
  CHECK(one.reaches(ip::make_address("fe80::1%3")));
  CHECK_FALSE(one.reaches(ip::make_address("fe80::1%4")));
}
