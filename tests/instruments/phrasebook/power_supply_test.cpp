// SPDX-License-Identifier: Apache-2.0
// The exchange as bytes; what the kind promises is in tests/contract/power_supply_test.cpp.
#include "instruments/phrasebook/power_supply.hpp"

#include <catch2/catch.hpp>

#include <string>

#include "instruments/phrasebook/standard.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_link.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

const std::string no_error = ";0,\"No error\"";

phrasebook::Phrasebook standard() {
  return phrasebook::find_phrasebook(phrasebook::standard_phrasebooks(), "standard-power-supply");
}

struct Fixture {
  explicit Fixture(phrasebook::Phrasebook book = standard())
      : supply(phrasebook::open_power_supply(
            *sim.timeline, book,
            std::make_unique<transport::Session>(*sim.timeline,
                                                 std::make_unique<test::ScriptedLink>(*sim.timeline, script)),
            {{1, 5.5, 0.5, {}}})) {}

  test::Simulated sim;
  test::Script script;
  std::unique_ptr<bench::PowerSupply> supply;
  bench::OutputReading reading;

  std::string run(task<> work) {
    try {
      sim.run(std::move(work));
    } catch (const base::Error& error) {
      return error.record().message;
    }
    CHECK(script.done());
    return "";
  }
  static task<> do_set_up(Fixture& f) {
    const bench::OutputSetting setting{5, 0.2, 5.5};
    co_await f.supply->set_up(1, setting, 5s);
  }
  static task<> do_switch_on(Fixture& f) { co_await f.supply->switch_on(1, 5s); }
  static task<> do_read(Fixture& f) { f.reading = co_await f.supply->read(1, 5s); }
  static task<> do_make_safe(Fixture& f) { co_await f.supply->make_safe(5s); }

  void expect_set_up() {
    script.add(
        ":OUTPut1:STATe OFF;:SOURce1:VOLTage:PROTection:CLEar;:SOURce1:VOLTage:LEVel:IMMediate:AMPLitude 0;"
        ":SOURce1:CURRent:LEVel:IMMediate:AMPLitude 0.2;:SOURce1:VOLTage:PROTection:LEVel 5.5;"
        ":SOURce1:VOLTage:LEVel:IMMediate:AMPLitude 5");
    script.add(
        ":SOURce1:VOLTage:LEVel:IMMediate:AMPLitude?;:SOURce1:CURRent:LEVel:IMMediate:AMPLitude?;"
        ":SOURce1:VOLTage:PROTection:LEVel?;:SYSTem:ERRor?",
        "5.00E+0;2.0E-1;5.50E+0" + no_error);
    expect_state("0;0");
  }
  void expect_state(const std::string& answer) {
    script.add(":OUTPut1:STATe?;:SOURce1:VOLTage:PROTection:TRIPped?;:SYSTem:ERRor?", answer + no_error);
  }
};

}  // namespace

TEST_CASE("power supply: it is switched off before anything is set, and on only with a wait for the voltage",
          "[phrasebook]") {
  Fixture f;
  f.expect_set_up();
  CHECK(f.run(Fixture::do_set_up(f)).empty());
  f.script.add(":OUTPut1:STATe ON;*OPC?", "1");
  f.expect_state("1;0");
  CHECK(f.run(Fixture::do_switch_on(f)).empty());
}

TEST_CASE("power supply: a voltage that is off by more than a step is refused", "[phrasebook]") {
  Fixture f;
  f.expect_set_up();
  f.script.rest[1].answer = "5.03E+0;2.0E-1;5.50E+0" + no_error;
  CHECK(f.run(Fixture::do_set_up(f)) == "voltage: asked 5 V, the instrument says 5.03 V");
  Fixture near;
  near.expect_set_up();
  near.script.rest[1].answer = "5.02E+0;2.0E-1;5.50E+0" + no_error;  // 0.2 % and 11 mV
  CHECK(near.run(Fixture::do_set_up(near)).empty());
}

TEST_CASE("power supply: one with a single output is not told which to measure", "[phrasebook]") {
  Fixture f;
  f.script.add(
      ":MEASure:SCALar:VOLTage:DC? (@1);:MEASure:SCALar:CURRent:DC? (@1);:OUTPut1:STATe?;"
      ":SOURce1:VOLTage:PROTection:TRIPped?;:SYSTem:ERRor?",
      "4.999E+0;5.0E-2;1;0" + no_error);
  CHECK(f.run(Fixture::do_read(f)).empty());
  CHECK(f.reading.voltage_v == 4.999);
  phrasebook::Phrasebook book = standard();
  book.channels = 1;
  Fixture single(book);
  single.script.add(
      ":MEASure:SCALar:VOLTage:DC?;:MEASure:SCALar:CURRent:DC?;:OUTPut1:STATe?;:SOURce1:VOLTage:PROTection:TRIPped?;"
      ":SYSTem:ERRor?",
      "9.91E+37;5.0E-2;1;0" + no_error);
  CHECK(single.run(Fixture::do_read(single)) == "output 1 reads nan V and 0.05 A, which is nothing that can be");
}

TEST_CASE("power supply: making safe speaks of the outputs first", "[phrasebook]") {
  Fixture f;
  f.script.add(":OUTPut1:STATe OFF");
  f.script.add("*CLS");
  f.script.add("*OPC?", "1");
  f.expect_state("0;0");
  CHECK(f.run(Fixture::do_make_safe(f)).empty());
}

TEST_CASE("power supply: a multimeter's phrasebook is refused", "[phrasebook]") {
  CHECK_THROWS_WITH(Fixture(phrasebook::find_phrasebook(phrasebook::standard_phrasebooks(), "standard-multimeter")),
                    "the phrasebook 'standard-multimeter' is for a multimeter, not for a power supply\n"
                    "  try: name another phrasebook in the bench file");
}
