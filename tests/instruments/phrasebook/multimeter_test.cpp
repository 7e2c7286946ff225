// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/multimeter.hpp"

#include <catch2/catch.hpp>

#include <string>

#include "instruments/phrasebook/standard.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_link.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

const std::string no_error = ";0,\"No error\"";

struct Fixture {
  test::Simulated sim;
  test::Script script;
  std::unique_ptr<bench::Multimeter> meter = phrasebook::open_multimeter(
      *sim.timeline, phrasebook::find_phrasebook(phrasebook::standard_phrasebooks(), "standard-multimeter"),
      std::make_unique<transport::Session>(*sim.timeline, std::make_unique<test::ScriptedLink>(*sim.timeline, script)));
  bench::DcSetting setting{10, 0.2};
  std::vector<bench::SettingTaken> taken;
  double value_v = 0;
  base::ErrorCode code = base::ErrorCode::defect;

  std::string run(task<> work) {
    try {
      sim.run(std::move(work));
    } catch (const base::Error& error) {
      code = error.record().code;
      return error.record().message;
    }
    CHECK(script.surprise.empty());
    return "";
  }
  static task<> do_set_up(Fixture& f) { f.taken = co_await f.meter->set_up_dc(f.setting, 5s); }
  static task<> do_read(Fixture& f) { f.value_v = co_await f.meter->read_dc(5s); }
  std::string set_up(const std::string& answer) {
    script.add(
        ":ABORt;:SENSe:FUNCtion:ON \"VOLTage\";:SENSe:VOLTage:DC:RANGe:UPPer 10;:SENSe:VOLTage:DC:APERture 0.2;"
        ":TRIGger:SOURce IMMediate");
    script.add(
        ":SENSe:FUNCtion:ON?;:SENSe:VOLTage:DC:RANGe:UPPer?;:SENSe:VOLTage:DC:APERture?;:TRIGger:SOURce?;:SYSTem:"
        "ERRor?",
        answer + no_error);
    return run(do_set_up(*this));
  }
  std::string read(const std::string& answer) {
    script.add(":READ?;:SYSTem:ERRor?", answer);
    return run(do_read(*this));
  }
};

}  // namespace

TEST_CASE("multimeter: a set-up is read back and a reading is in volts", "[phrasebook]") {
  Fixture f;
  CHECK(f.set_up("\"VOLT\";1.0E+1;2.0E-1;IMM").empty());
  REQUIRE(f.taken.size() == 4);
  CHECK(f.taken[1].asked == "10 V");
  CHECK(f.taken[2].read_back == "200 ms");
  CHECK(f.read("+2.516E+00" + no_error).empty());
  CHECK(f.value_v == 2.516);
  CHECK(f.script.done());
}

TEST_CASE("multimeter: a larger range and a near aperture serve, and both spellings of the function", "[phrasebook]") {
  Fixture f;
  CHECK(f.set_up("\"VOLT:DC\";1.0E+2;1.667E-1;IMM").empty());
  CHECK(f.taken[1].read_back == "100 V");
}

TEST_CASE("multimeter: what does not serve is refused", "[phrasebook]") {
  CHECK(Fixture().set_up("\"VOLT:AC\";1.0E+1;2.0E-1;IMM") ==
        "measured quantity: asked d.c. volts, the instrument says VOLT:AC");
  CHECK(Fixture().set_up("\"VOLT\";1.0E+0;2.0E-1;IMM") == "range: asked 10 V, the instrument says 1 V");
  CHECK(Fixture().set_up("\"VOLT\";1.0E+1;2.0E-3;IMM") == "aperture: asked 200 ms, the instrument says 2 ms");
  CHECK(Fixture().set_up("\"VOLT\";1.0E+1;2.0E-1;BUS") == "trigger source: asked at once, the instrument says BUS");
}

TEST_CASE("multimeter: overload and what is no voltage are refused", "[phrasebook]") {
  Fixture f;
  REQUIRE(f.set_up("\"VOLT\";1.0E+1;2.0E-1;IMM").empty());
  CHECK(f.read("9.9E+37" + no_error) == "overload: more than the range of 10 V");
  CHECK(f.code == base::ErrorCode::bad_answer);
  CHECK(f.read("9.91E+37" + no_error) == "the reading is no voltage (nan)");
  CHECK(f.read("1E+20" + no_error) == "the reading is no voltage (1e+20)");
  CHECK(f.script.done());
}

TEST_CASE("multimeter: a reading without set-up is refused before anything is sent", "[phrasebook]") {
  Fixture f;
  CHECK(f.run(Fixture::do_read(f)) == "the multimeter was not set up before the reading");
  CHECK(f.script.messages == 0);
}

TEST_CASE("multimeter: an oscilloscope's phrasebook is refused", "[phrasebook]") {
  test::Simulated sim;
  test::Script script;
  CHECK_THROWS_WITH(
      phrasebook::open_multimeter(*sim.timeline,
                                  phrasebook::find_phrasebook(phrasebook::standard_phrasebooks(), "standard-digitiser"),
                                  std::make_unique<transport::Session>(
                                      *sim.timeline, std::make_unique<test::ScriptedLink>(*sim.timeline, script))),
      "the phrasebook 'standard-digitiser' is for an oscilloscope, not for a multimeter\n"
      "  try: name another phrasebook in the bench file");
}
