// SPDX-License-Identifier: Apache-2.0
// The exchange as bytes; what the kind promises is in tests/contract/relay_box_test.cpp.
#include "instruments/phrasebook/relay_box.hpp"

#include "tests/support/scripted_driver.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

using test::no_error;

struct Fixture : test::ScriptedDriver<bench::RelayBox> {
  explicit Fixture(const phrasebook::Phrasebook& book = test::standard_phrasebook("standard-relay-box"))
      : ScriptedDriver([&](base::Timeline& timeline, std::unique_ptr<transport::Session> session) {
          return phrasebook::open_relay_box(timeline, book, std::move(session),
                                            {{"pad", 101, {}}, {"calibrator", 203, {}}});
        }) {}

  static task<> do_close(Fixture& f, std::vector<std::string> ways) { co_await f.driver->close_only(ways, 5s); }
  static task<> do_make_safe(Fixture& f) { co_await f.driver->make_safe(5s); }
  void expect_state(const std::string& answer) {
    script.add(":ROUTe:CLOSe? (@101,203);:SYSTem:ERRor?", answer + no_error);
  }
};

}  // namespace

TEST_CASE("relay box: all is opened and proved open before the relays of the ways close", "[phrasebook]") {
  Fixture f;
  f.script.add(":ROUTe:OPEN:ALL;*OPC?", "1");
  f.expect_state("0,0");
  f.script.add(":ROUTe:CLOSe (@203);*OPC?", "1");
  f.expect_state("0,1");
  CHECK(f.run(Fixture::do_close(f, {"calibrator"})).empty());
}

TEST_CASE("relay box: what stays closed keeps everything else open", "[phrasebook]") {
  Fixture f;
  f.script.add(":ROUTe:OPEN:ALL;*OPC?", "1");
  f.expect_state("1,0");
  CHECK(f.run(Fixture::do_close(f, {"calibrator"})) == "way 'pad' (relay 101): asked open, the instrument says closed");
  CHECK(f.script.done());
}

TEST_CASE("relay box: making safe opens before anything else is said", "[phrasebook]") {
  Fixture f;
  f.script.add(":ROUTe:OPEN:ALL");
  f.script.add("*CLS");
  f.script.add("*OPC?", "1");
  f.expect_state("0,0");
  CHECK(f.run(Fixture::do_make_safe(f)).empty());
}

TEST_CASE("relay box: an oscilloscope's phrasebook is refused", "[phrasebook]") {
  CHECK_THROWS_WITH(Fixture(test::standard_phrasebook("standard-digitiser")),
                    "the phrasebook 'standard-digitiser' is for an oscilloscope, not for a relay box\n"
                    "  try: name another phrasebook in the bench file");
}
