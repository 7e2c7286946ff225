// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include "instruments/find/usb.hpp"

using namespace eyelevel;
using namespace eyelevel::find;

TEST_CASE("USB: an interface becomes its resource name with the strings as its identity, trouble is told", "[find]") {
  transport::usbtmc::FoundInterface good;
  good.maker = "Lanternfield";
  good.model = "Scope";
  good.serial = "S1";
  good.place = "1-4";
  good.resource = transport::parse_resource_name("USB::0x1234::0x5678::S1::INSTR");
  auto bad = good;
  bad.place = "1-5";
  bad.model =
      "Met\x1B"
      "er";
  bad.trouble = "no permission";
  bad.advice = "install the rule";
  const auto seen = collect({good, bad});
  REQUIRE(seen.sightings.size() == 1);
  CHECK(seen.sightings[0].resource == "USB0::0x1234::0x5678::S1::0::INSTR");
  CHECK(seen.sightings[0].identity == Identity{"Lanternfield", "Scope", "S1", ""});
  CHECK(seen.sightings[0].host.empty());
  REQUIRE(seen.unusable.size() == 1);
  CHECK(seen.unusable[0].what == "USB0::0x1234::0x5678::S1::0::INSTR (Lanternfield Met\\x1ber at USB 1-5)");
  CHECK(seen.unusable[0].why == "no permission");
  CHECK(seen.unusable[0].attempt == "install the rule");
  CHECK(collect(std::vector<transport::usbtmc::FoundInterface>{}).sightings.empty());
}
