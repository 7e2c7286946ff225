// SPDX-License-Identifier: Apache-2.0
// The exchange as bytes; what the kind promises is in tests/contract/counter_test.cpp.
#include "instruments/phrasebook/counter.hpp"

#include "tests/support/scripted_driver.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

using test::no_error;

struct Fixture : test::ScriptedDriver<bench::Counter> {
  explicit Fixture(const phrasebook::Phrasebook& book = test::standard_phrasebook("standard-counter"))
      : ScriptedDriver([&](base::Timeline& timeline, std::unique_ptr<transport::Session> session) {
          return phrasebook::open_counter(timeline, book, std::move(session));
        }) {}

  static task<> do_set_up(Fixture& f) {
    const bench::FrequencySetting setting{2, bench::Coupling::dc, 0.25, 0.1};
    co_await f.driver->set_up_frequency(setting, 5s);
  }
  static task<> do_read(Fixture& f) { f.value_hz = co_await f.driver->read_frequency(5s); }
  std::string set_up(const std::string& answer) {
    script.add(
        ":ABORt;:SENSe:FUNCtion:ON \"FREQuency\";:INPut2:COUPling DC;:SENSe:EVENt2:LEVel 0.25;"
        ":SENSe:FREQuency:APERture 0.1;:TRIGger:SOURce IMMediate");
    script.add(
        ":SENSe:FUNCtion:ON?;:INPut2:COUPling?;:SENSe:EVENt2:LEVel?;:SENSe:FREQuency:APERture?;:TRIGger:SOURce?;"
        ":SYSTem:ERRor?",
        answer + no_error);
    return run(do_set_up(*this));
  }
  std::string read(const std::string& sent, const std::string& answer) {
    script.add(sent, answer + no_error);
    return run(do_read(*this));
  }

  double value_hz = 0;
};

const std::string fine = "\"FREQ\";DC;2.5E-1;1.0E-1;IMM";

}  // namespace

TEST_CASE("counter: settings are read back, a reading names its input", "[phrasebook]") {
  Fixture f;
  CHECK(f.set_up(fine).empty());
  CHECK(f.read(":READ? (@2);:SYSTem:ERRor?", "4.3218E+6").empty());
  CHECK(f.value_hz == 4.3218e6);
  auto book = test::standard_phrasebook("standard-counter");
  book.channels = 1;
  Fixture single(book);
  CHECK(single.set_up(fine).empty());
  CHECK(single.read(":READ?;:SYSTem:ERRor?", "1.0E+3").empty());
}

TEST_CASE("counter: what does not serve is refused", "[phrasebook]") {
  CHECK(Fixture().set_up("\"PER\";DC;2.5E-1;1.0E-1;IMM") ==
        "measured quantity: asked frequency, the instrument says PER");
  CHECK(Fixture().set_up("\"FREQ\";AC;2.5E-1;1.0E-1;IMM") == "coupling: asked dc, the instrument says AC");
  CHECK(Fixture().set_up("\"FREQ\";DC;3.0E-1;1.0E-1;IMM") == "level: asked 250 mV, the instrument says 300 mV");
  CHECK(Fixture().set_up("\"FREQ\";DC;2.5E-1;1.0E+0;IMM") == "gate: asked 100 ms, the instrument says 1 s");
  CHECK(Fixture().set_up("\"FREQ\";DC;2.5E-1;1.0E-1;EXT") == "trigger source: asked at once, the instrument says EXT");
}

TEST_CASE("counter: what is no frequency is refused", "[phrasebook]") {
  const std::string none = "no signal crosses the level at input 2";
  for (const auto& [answer, says] :
       std::vector<std::pair<std::string, std::string>>{{"9.91E+37", none},
                                                        {"0", none},
                                                        {"-5", "the reading is no frequency (-5)"},
                                                        {"9.9E+37", "the reading is no frequency (inf)"}}) {
    Fixture f;
    REQUIRE(f.set_up(fine).empty());
    CHECK(f.read(":READ? (@2);:SYSTem:ERRor?", answer) == says);
  }
}

TEST_CASE("counter: a multimeter's phrasebook is refused", "[phrasebook]") {
  CHECK_THROWS_WITH(Fixture(test::standard_phrasebook("standard-multimeter")),
                    "the phrasebook 'standard-multimeter' is for a multimeter, not for a counter\n"
                    "  try: name another phrasebook in the bench file");
}
