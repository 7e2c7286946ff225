// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include <stdexcept>
#include <string>

#include "instruments/find/dns/message.hpp"

using namespace eyelevel::find::dns;

TEST_CASE("DNS name: case of ASCII letters does not matter, other bytes do", "[find]") {
  // RFC 1035, 2.3.3; RFC 6762, 16.
  CHECK(name_of("_LXI._tcp.local") == name_of("_lxi._TCP.Local"));
  CHECK_FALSE(name_of("_lxi._tcp.local") == name_of("_lxi._udp.local"));
  CHECK_FALSE(below("\xC3\x84", Name{}) == below("\xC3\xA4", Name{}));
  CHECK_FALSE(name_of("a.b") < name_of("A.B"));
  CHECK(name_of("a.b") < name_of("A.C"));
}

TEST_CASE("DNS name: an instance's label may hold dots, and text shows them escaped", "[find]") {
  // RFC 6763, 4.1.1 and 4.3: the instance is one label.
  const auto name = below("Dr. Bench\x07", name_of("_lxi._tcp.local"));
  CHECK(name.labels.size() == 4);
  CHECK(text_of(name) == "Dr\\.\\032Bench\\007._lxi._tcp.local");
  CHECK(name.ends_with(name_of("_lxi._tcp.LOCAL")));
  CHECK_FALSE(name_of("local").ends_with(name));
}

TEST_CASE("DNS name: labels of 63 and names of 255 bytes are the limit", "[find]") {
  // RFC 1035, 2.3.4.
  CHECK_NOTHROW(below(std::string(63, 'a'), Name{}));
  CHECK_THROWS_AS(below(std::string(64, 'a'), Name{}), std::invalid_argument);
  CHECK_THROWS_AS(below("", Name{}), std::invalid_argument);
  CHECK_THROWS_AS(name_of("a..b"), std::invalid_argument);
  Name name;
  for (int i = 0; i < 3; ++i) name = below(std::string(63, 'a'), name);  // 3 * 64 + 1 bytes
  CHECK_NOTHROW(below(std::string(61, 'b'), name));
  CHECK_THROWS_AS(below(std::string(62, 'b'), name), std::invalid_argument);
}
