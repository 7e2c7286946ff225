// SPDX-License-Identifier: Apache-2.0
// The exchange as bytes; what the kind promises is in tests/contract/function_generator_test.cpp.
#include "instruments/phrasebook/function_generator.hpp"

#include "tests/support/scripted_driver.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

using test::no_error;

struct Fixture : test::ScriptedDriver<bench::FunctionGenerator> {
  explicit Fixture(const phrasebook::Phrasebook& book = test::standard_phrasebook("standard-function-generator"))
      : ScriptedDriver([&](base::Timeline& timeline, std::unique_ptr<transport::Session> session) {
          return phrasebook::open_function_generator(timeline, book, std::move(session), {{1, 5, 0, {}}});
        }) {}

  static task<> do_set_up(Fixture& f) {
    const bench::SignalSetting setting{bench::Shape::triangle, 1000, 2, -0.5};
    co_await f.driver->set_up(1, setting, 5s);
  }
  static task<> do_make_safe(Fixture& f) { co_await f.driver->make_safe(5s); }
  std::string set_up() { return run(do_set_up(*this)); }
};

}  // namespace

TEST_CASE("function generator: off, unit and shape first, then an amplitude that no old offset can push too far",
          "[phrasebook]") {
  Fixture f;
  f.script.add(
      ":OUTPut1:STATe OFF;:SOURce1:FUNCtion:SHAPe TRIangle;:SOURce1:FREQuency:CW 1000;:SOURce1:VOLTage:UNIT VPP;"
      ":SOURce1:VOLTage:LEVel:IMMediate:OFFSet 0;:SOURce1:VOLTage:LEVel:IMMediate:AMPLitude 2;"
      ":SOURce1:VOLTage:LEVel:IMMediate:OFFSet -0.5");
  f.script.add(
      ":SOURce1:FUNCtion:SHAPe?;:SOURce1:FREQuency:CW?;:SOURce1:VOLTage:UNIT?;"
      ":SOURce1:VOLTage:LEVel:IMMediate:AMPLitude?;:SOURce1:VOLTage:LEVel:IMMediate:OFFSet?;:SYSTem:ERRor?",
      "TRI;1.0E+3;VPP;2.0E+0;-5.0E-1" + no_error);
  f.script.add(":OUTPut1:STATe?;:SYSTem:ERRor?", "0" + no_error);
  CHECK(f.set_up().empty());
}

TEST_CASE("function generator: a family without a unit, with a load, is told what hangs on it", "[phrasebook]") {
  auto book = test::standard_phrasebook("standard-function-generator");
  auto& phrases = std::get<phrasebook::FunctionGeneratorPhrases>(book.phrases);
  phrases.amplitude_unit.clear();
  phrases.peak_to_peak.clear();
  phrases.load = "OUTPut<n>:LOAD";
  phrases.open_load = "INFinity";
  Fixture f(book);
  f.script.add(
      ":OUTPut1:STATe OFF;:OUTPut1:LOAD INFinity;:SOURce1:FUNCtion:SHAPe TRIangle;:SOURce1:FREQuency:CW 1000;"
      ":SOURce1:VOLTage:LEVel:IMMediate:OFFSet 0;:SOURce1:VOLTage:LEVel:IMMediate:AMPLitude 2;"
      ":SOURce1:VOLTage:LEVel:IMMediate:OFFSet -0.5");
  f.script.add(
      ":SOURce1:FUNCtion:SHAPe?;:SOURce1:FREQuency:CW?;:SOURce1:VOLTage:LEVel:IMMediate:AMPLitude?;"
      ":SOURce1:VOLTage:LEVel:IMMediate:OFFSet?;:SYSTem:ERRor?",
      "TRI;1.0E+3;1.0E+0;-5.0E-1" + no_error);
  CHECK(f.set_up() == "amplitude: asked 2 V, the instrument says 1 V");
}

TEST_CASE("function generator: making safe speaks of the outputs first", "[phrasebook]") {
  Fixture f;
  f.script.add(":OUTPut1:STATe OFF");
  f.script.add("*CLS");
  f.script.add("*OPC?", "1");
  f.script.add(":OUTPut1:STATe?;:SYSTem:ERRor?", "0" + no_error);
  CHECK(f.run(Fixture::do_make_safe(f)).empty());
}

TEST_CASE("function generator: a counter's phrasebook is refused", "[phrasebook]") {
  CHECK_THROWS_WITH(Fixture(test::standard_phrasebook("standard-counter")),
                    "the phrasebook 'standard-counter' is for a counter, not for a function generator\n"
                    "  try: name another phrasebook in the bench file");
}
