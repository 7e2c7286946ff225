// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/relay_box.hpp"

#include <catch2/catch.hpp>

#include "tests/support/instrument_dialogue.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;
using namespace std::chrono_literals;

namespace {

struct Box {
  test::Simulated sim;
  SimulatedRelayBox device{*sim.timeline, 4};
  test::Dialogue ask{sim, device};
};

}  // namespace

TEST_CASE("relay box: a contact is made once its relay has moved, and until then it is an operation", "[sim]") {
  Box box;
  box.ask("ROUT:CLOS (@2,4)");
  CHECK(box.ask("ROUT:CLOS? (@1,2,4);:STAT:OPER:COND?") == "0,1,1;2");
  CHECK_FALSE(box.device.makes_contact(2));
  CHECK(box.ask("*OPC?") == "1");
  CHECK(base::to_seconds(box.sim.timeline->now()) == Approx(5e-3).margin(1e-6));
  CHECK(box.device.makes_contact(2));
  CHECK(box.device.makes_contact(4));
  CHECK(box.ask("ROUT:OPEN (@2);OPEN? (@2)") == "1");
  CHECK(box.device.makes_contact(2));  // not yet
  box.ask("*WAI");
  CHECK_FALSE(box.device.makes_contact(2));
  CHECK(box.device.most_contacts() == 2);
}

TEST_CASE("relay box: all open at once, and at reset", "[sim]") {
  for (const char* message : {"ROUT:OPEN:ALL", "*RST"}) {
    Box box;
    box.ask("ROUT:CLOS (@1:4);*WAI");
    box.ask(message);
    CHECK(box.ask("*WAI;:ROUT:CLOS? (@1:4)") == "0,0,0,0");
    for (const int relay : {1, 2, 3, 4}) CHECK_FALSE(box.device.makes_contact(relay));
  }
}

TEST_CASE("relay box: a relay that is not there is an error and none moves", "[sim]") {
  Box box;
  const std::pair<const char*, int> rows[] = {
      {"ROUT:CLOS (@1,5)", -222}, {"ROUT:CLOS? (@0)", -222},    {"ROUT:CLOS 1", -104},
      {"ROUT:CLOS", -109},        {"ROUT:OPEN:ALL (@1)", -108}, {"ROUT:CLOS (@1),(@2)", -108},
  };
  for (const auto& [message, number] : rows) {
    CAPTURE(message);
    CHECK(box.ask(message).empty());
    CHECK(box.ask.error() == number);
  }
  CHECK(box.ask("ROUT:CLOS? (@1:4)") == "0,0,0,0");
}
