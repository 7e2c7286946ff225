// SPDX-License-Identifier: Apache-2.0
// The exchange as bytes (headers of SCPI-99 as in the phrasebook), what is proved by reading back, each refusal in
// full.
#include "instruments/phrasebook/oscilloscope.hpp"

#include <catch2/catch.hpp>

#include <bit>
#include <cstdint>
#include <string>

#include "instruments/phrasebook/standard.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_link.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

const std::string no_error = ";0,\"No error\"";

std::string block_of(const std::vector<float>& values) {
  std::string bytes;
  for (const float value : values) {
    const auto bits = std::bit_cast<std::uint32_t>(value);
    for (unsigned shift = 0; shift < 32; shift += 8) bytes += static_cast<char>((bits >> shift) & 0xFFU);
  }
  const std::string length = std::to_string(bytes.size());
  return "#" + std::to_string(length.size()) + length + bytes;
}

struct Fixture {
  test::Simulated sim;
  test::Script script;
  std::unique_ptr<bench::Oscilloscope> scope = phrasebook::open_oscilloscope(
      *sim.timeline, phrasebook::find_phrasebook(phrasebook::standard_phrasebooks(), "standard-digitiser"),
      std::make_unique<transport::Session>(*sim.timeline, std::make_unique<test::ScriptedLink>(*sim.timeline, script)));
  bench::ChannelSetting setting{10, bench::Coupling::dc, 0.6, 2.6, {}};
  bench::Acquisition acquisition{1, 100e-9, 20e6, {}};  // two points
  std::vector<bench::SettingTaken> taken;
  signal::Waveform waveform;
  std::string identity;
  base::ErrorCode code = base::ErrorCode::defect;

  std::string run(task<> work) {
    try {
      sim.run(std::move(work));
    } catch (const base::Error& error) {
      code = error.record().code;
      return error.what();
    }
    CHECK(script.surprise.empty());
    return "";
  }
  static task<> do_set_up(Fixture& f) { f.taken = co_await f.scope->set_up(1, f.setting, 5s); }
  static task<> do_capture(Fixture& f) { f.waveform = co_await f.scope->capture(f.acquisition, 5s); }
  static task<> do_greet(Fixture& f) { f.identity = co_await f.scope->greet(5s); }
  std::string set_up() { return run(do_set_up(*this)); }
  std::string capture() { return run(do_capture(*this)); }
  std::string greet() { return run(do_greet(*this)); }

  void expect_set_up(const std::string& answer) {
    script.add(
        ":INPut1:ATTenuation 10;:INPut1:COUPling DC;:SENSe:VOLTage1:RANGe:PTPeak 2;:SENSe:VOLTage1:RANGe:OFFSet 1.6;"
        ":INPut1:FILTer:LPASs:STATe OFF");
    script.add(
        ":INPut1:ATTenuation?;:INPut1:COUPling?;:SENSe:VOLTage1:RANGe:PTPeak?;:SENSe:VOLTage1:RANGe:OFFSet?;"
        ":INPut1:FILTer:LPASs:STATe?;:INPut1:FILTer:LPASs:FREQuency?;:SYSTem:ERRor?",
        answer);
  }
  void expect_sweep(const std::string& answer, const std::string& points) {
    script.add(":ABORt;:SENSe:FUNCtion:ON \"XTIMe:VOLTage1\";:SENSe:SWEep:TINTerval 5E-08;:TRIGger:SOURce IMMediate");
    script.add(":SENSe:FUNCtion:ON?;:SENSe:SWEep:TINTerval?;:TRIGger:SOURce?;:SYSTem:ERRor?", answer);
    if (points.empty()) return;
    script.add(":SENSe:SWEep:POINts 2");
    script.add(":SENSe:SWEep:POINts?;:SENSe:SWEep:TINTerval?;:SYSTem:ERRor?", points);
  }
  void expect_record(const std::string& answer) {
    script.add(":INITiate:IMMediate;*OPC?", "1");
    script.add(":FETCh:ARRay:VOLTage? (@1);:SYSTem:ERRor?", answer);
  }
  void make_ready() {
    expect_set_up("1.0E+1;DC;2.0E+0;1.6E+0;0;2E+7" + no_error);
    REQUIRE(set_up().empty());
  }
};

const std::string set_up_sent =
    "  sent 311 bytes \":INPut1:ATTenuation 10;:INPut1:COUPling DC;:SENSe:VOLTage1:RANGe:PTPeak "
    "2;:SENSe:VOLTage1:RANGe:"
    "OFFSet 1.6;:INPut1:FILTer:LPASs:STATe OFF\\n:INPut1:ATTenuation?;:INPut1:COUPling?;:SENSe:VOLTage1:RANGe:P"
    "... (311 bytes in all)\"\n";

}  // namespace

TEST_CASE("oscilloscope: greeting sets and proves the form of the data", "[phrasebook]") {
  Fixture f;
  f.script.add("*CLS");
  f.script.add("*IDN?", "Lanternfield,Scope,0,1");
  f.script.add(":SYSTem:ERRor?", "0,\"No error\"");
  f.script.add(":FORMat:DATA REAL,32;:FORMat:BORDer SWAPped");
  f.script.add(":FORMat:DATA?;:FORMat:BORDer?;:SYSTem:ERRor?", "REAL,32;SWAP" + no_error);
  CHECK(f.greet().empty());
  CHECK(f.identity == "Lanternfield,Scope,0,1");
  CHECK(f.script.done());
}

TEST_CASE("oscilloscope: another form of the data than asked is refused", "[phrasebook]") {
  Fixture f;
  f.script.add("*CLS");
  f.script.add("*IDN?", "Lanternfield,Scope,0,1");
  f.script.add(":SYSTem:ERRor?", "0,\"No error\"");
  f.script.add(":FORMat:DATA REAL,32;:FORMat:BORDer SWAPped");
  f.script.add(":FORMat:DATA?;:FORMat:BORDer?;:SYSTem:ERRor?", "ASC,0;SWAP" + no_error);
  CHECK(
      f.greet() ==
      "MEMORY0::scripted::INSTR: data format: asked REAL,32, the instrument says ASC,0\n"
      "  sent 88 bytes \":FORMat:DATA REAL,32;:FORMat:BORDer SWAPped\\n:FORMat:DATA?;:FORMat:BORDer?;:SYSTem:ERRor?\"\n"
      "  received 23 bytes \"ASC,0;SWAP;0,\\\"No error\\\"\"\n"
      "  try: is this the right phrasebook for the instrument?");
  CHECK(f.code == base::ErrorCode::setting_not_taken);
}

TEST_CASE("oscilloscope: a set-up sets the factor first, reads all back and says what was taken", "[phrasebook]") {
  Fixture f;
  f.expect_set_up("1.0E+1;DC;2.5E+0;1.6E+0;0;2E+7" + no_error);
  CHECK(f.set_up().empty());
  REQUIRE(f.taken.size() == 4);
  CHECK(f.taken[0].setting == "probe factor");
  CHECK(f.taken[0].read_back == "x10");
  CHECK(f.taken[2].setting == "screen");
  CHECK(f.taken[2].asked == "600 mV to 2.6 V");
  CHECK(f.taken[2].read_back == "350 mV to 2.85 V");
  CHECK(f.taken[3].read_back == "full");
  CHECK(f.script.done());
}

TEST_CASE("oscilloscope: a bandwidth limit is set before its switch and proved", "[phrasebook]") {
  Fixture f;
  f.setting.bandwidth_hz = 20e6;
  f.script.add(
      ":INPut1:ATTenuation 10;:INPut1:COUPling DC;:SENSe:VOLTage1:RANGe:PTPeak 2;:SENSe:VOLTage1:RANGe:OFFSet 1.6;"
      ":INPut1:FILTer:LPASs:FREQuency 2E+07;:INPut1:FILTer:LPASs:STATe ON");
  f.script.add(
      ":INPut1:ATTenuation?;:INPut1:COUPling?;:SENSe:VOLTage1:RANGe:PTPeak?;:SENSe:VOLTage1:RANGe:OFFSet?;"
      ":INPut1:FILTer:LPASs:STATe?;:INPut1:FILTer:LPASs:FREQuency?;:SYSTem:ERRor?",
      "1.0E+1;DC;2.0E+0;1.6E+0;1;2.5E+7" + no_error);
  CHECK_THAT(f.set_up(),
             Catch::StartsWith("MEMORY0::scripted::INSTR: bandwidth: asked 20 MHz, the instrument says 25 MHz\n"));
}

TEST_CASE("oscilloscope: the wrong probe factor is caught, not measured", "[phrasebook]") {
  Fixture f;
  f.expect_set_up("1.0E+0;DC;2.0E+0;1.6E+0;0;2E+7" + no_error);
  CHECK(f.set_up() ==
        "MEMORY0::scripted::INSTR: probe factor: asked x10, the instrument says x1\n" + set_up_sent +
            "  received 43 bytes \"1.0E+0;DC;2.0E+0;1.6E+0;0;2E+7;0,\\\"No error\\\"\"\n"
            "  try: does the probe tell the instrument another factor than the bench file says? look at its switch");
  CHECK(f.code == base::ErrorCode::setting_not_taken);
}

TEST_CASE("oscilloscope: what is read back must serve what was asked", "[phrasebook]") {
  struct Row {
    const char* answer;
    const char* message;
  };
  const std::vector<Row> rows{
      {"1.0E+1;AC;2.0E+0;1.6E+0;0;2E+7", "coupling: asked dc, the instrument says AC"},
      {"1.0E+1;DC;1.0E+0;1.6E+0;0;2E+7", "screen: asked 600 mV to 2.6 V, the instrument says 1.1 V to 2.1 V"},
      {"1.0E+1;DC;2.0E+0;1.0E+0;0;2E+7", "screen: asked 600 mV to 2.6 V, the instrument says 0 V to 2 V"},
      {"1.0E+1;DC;2.0E+1;1.6E+0;0;2E+7", "screen: asked 600 mV to 2.6 V, the instrument says -8.4 V to 11.6 V"},
      {"1.0E+1;DC;2.0E+0;1.6E+0;1;2E+7", "bandwidth: asked full, the instrument says 20 MHz"},
      {"1.0E+1;DC;9.91E37;1.6E+0;0;2E+7",
       "screen: asked 600 mV to 2.6 V, the instrument says not a number to not a number"},
  };
  for (const Row& row : rows) {
    Fixture f;
    f.expect_set_up(row.answer + no_error);
    CHECK_THAT(f.set_up(), Catch::StartsWith("MEMORY0::scripted::INSTR: " + std::string(row.message) + "\n"));
    CHECK(f.code == base::ErrorCode::setting_not_taken);
  }
}

TEST_CASE("oscilloscope: an error in the queue after a set-up is told with what was sent", "[phrasebook]") {
  Fixture f;
  f.expect_set_up("1.0E+1;DC;2.0E+0;1.6E+0;0;2E+7;-222,\"Data out of range\"");
  f.script.add(":SYSTem:ERRor?", "0,\"No error\"");
  CHECK(f.set_up() ==
        "MEMORY0::scripted::INSTR: the instrument reports -222 \"Data out of range\"\n" + set_up_sent +
            "  try: did somebody use the instrument's own keys meanwhile? is this the right phrasebook for it? look up "
            "the numbers in its handbook");
  CHECK(f.code == base::ErrorCode::instrument_error);
}

TEST_CASE("oscilloscope: a capture is in volts with the screen it was taken with", "[phrasebook]") {
  Fixture f;
  f.make_ready();
  f.expect_sweep("\"XTIM:VOLT1\";5.0E-8;IMM" + no_error, "2;5.0E-8" + no_error);
  f.expect_record(block_of({1.25F, 2.5F}) + no_error);
  CHECK(f.capture().empty());
  CHECK(std::get<std::vector<float>>(f.waveform.codes) == std::vector<float>{1.25F, 2.5F});
  CHECK(f.waveform.rate_hz == Approx(20e6));
  CHECK(f.waveform.scale_v == 1);
  REQUIRE(f.waveform.screen);
  // Ends of the span, drawn in by the stated 1e-5 of its width.
  CHECK(f.waveform.screen->low_v == Approx(0.6).margin(3e-5));
  CHECK(f.waveform.screen->high_v == Approx(2.6).margin(3e-5));
  CHECK(f.waveform.screen->high_v < 2.6);
  CHECK(f.script.done());
}

TEST_CASE("oscilloscope: the next capture of the same sweep costs two messages", "[phrasebook]") {
  Fixture f;
  f.make_ready();
  f.expect_sweep("\"XTIM:VOLT1\";5.0E-8;IMM" + no_error, "2;5.0E-8" + no_error);
  f.expect_record(block_of({1.25F, 2.5F}) + no_error);
  REQUIRE(f.capture().empty());
  const int before = f.script.messages;
  for (int i = 0; i < 3; ++i) {
    f.expect_record(block_of({1.25F, 2.5F}) + no_error);
    CHECK(f.capture().empty());
  }
  CHECK(f.script.messages == before + 6);
  f.acquisition.duration_s = 90e-9;  // another sweep is set again
  f.expect_sweep("\"XTIM:VOLT1\";5.0E-8;IMM" + no_error, "2;5.0E-8" + no_error);
  f.expect_record(block_of({1.25F, 2.5F}) + no_error);
  CHECK(f.capture().empty());
  CHECK(f.script.done());
}

TEST_CASE("oscilloscope: after a failed capture the sweep is set again", "[phrasebook]") {
  Fixture f;
  f.make_ready();
  for (int i = 0; i < 2; ++i) {
    f.expect_sweep("\"XTIM:VOLT1\";5.0E-8;IMM" + no_error, "2;5.0E-8" + no_error);
    f.expect_record(block_of({1.25F}) + no_error);
    CHECK_FALSE(f.capture().empty());
  }
  CHECK(f.script.done());
}

TEST_CASE("oscilloscope: a buffer that was given back serves the next capture", "[phrasebook]") {
  Fixture f;
  f.make_ready();
  f.expect_sweep("\"XTIM:VOLT1\";5.0E-8;IMM" + no_error, "2;5.0E-8" + no_error);
  f.expect_record(block_of({1.25F, 2.5F}) + no_error);
  REQUIRE(f.capture().empty());
  const float* memory = std::get<std::vector<float>>(f.waveform.codes).data();
  f.scope->give_back(std::move(f.waveform));
  f.expect_record(block_of({0.75F, 2.0F}) + no_error);
  REQUIRE(f.capture().empty());
  CHECK(std::get<std::vector<float>>(f.waveform.codes).data() == memory);
  CHECK(std::get<std::vector<float>>(f.waveform.codes)[0] == 0.75F);
}

TEST_CASE("oscilloscope: a faster rate than asked is taken, with more points for the same time", "[phrasebook]") {
  Fixture f;
  f.make_ready();
  f.script.add(":ABORt;:SENSe:FUNCtion:ON \"XTIMe:VOLTage1\";:SENSe:SWEep:TINTerval 5E-08;:TRIGger:SOURce IMMediate");
  f.script.add(":SENSe:FUNCtion:ON?;:SENSe:SWEep:TINTerval?;:TRIGger:SOURce?;:SYSTem:ERRor?",
               "\"XTIM:VOLT1\";2.5E-8;IMM" + no_error);
  f.script.add(":SENSe:SWEep:POINts 4");
  f.script.add(":SENSe:SWEep:POINts?;:SENSe:SWEep:TINTerval?;:SYSTem:ERRor?", "4;2.5E-8" + no_error);
  f.expect_record(block_of({1, 1, 1, 1}) + no_error);
  CHECK(f.capture().empty());
  CHECK(f.waveform.rate_hz == Approx(40e6));
  CHECK(f.waveform.size() == 4);
}

TEST_CASE("oscilloscope: a trigger on the channel is set and proved", "[phrasebook]") {
  Fixture f;
  f.make_ready();
  f.acquisition.trigger = bench::Trigger{1.5, bench::Edge::falling};
  const auto expect = [&](const std::string& answer) {
    f.script.add(
        ":ABORt;:SENSe:FUNCtion:ON \"XTIMe:VOLTage1\";:SENSe:SWEep:TINTerval 5E-08;:TRIGger:SOURce INTernal1;"
        ":TRIGger:LEVel 1.5;:TRIGger:SLOPe NEGative");
    f.script.add(
        ":SENSe:FUNCtion:ON?;:SENSe:SWEep:TINTerval?;:TRIGger:SOURce?;:TRIGger:LEVel?;:TRIGger:SLOPe?;:SYSTem:ERRor?",
        answer + no_error);
  };
  const std::string begin = "MEMORY0::scripted::INSTR: ";
  expect("\"XTIM:VOLT1\";5.0E-8;EXT;1.5;NEG");
  CHECK_THAT(f.capture(), Catch::StartsWith(begin + "trigger source: asked channel 1, the instrument says EXT\n"));
  expect("\"XTIM:VOLT1\";5.0E-8;INT1;1.0;NEG");
  CHECK_THAT(f.capture(), Catch::StartsWith(begin + "trigger level: asked 1.5 V, the instrument says 1 V\n"));
  expect("\"XTIM:VOLT1\";5.0E-8;INT1;1.5;POS");
  CHECK_THAT(f.capture(), Catch::StartsWith(begin + "trigger slope: asked falling, the instrument says POS\n"));
  expect("\"XTIM:VOLT2\";5.0E-8;INT1;1.5;NEG");
  CHECK_THAT(f.capture(),
             Catch::StartsWith(begin + "measured signal: asked channel 1, the instrument says XTIM:VOLT2\n"));
  expect("\"XTIM:VOLT1\";5.0E-8;INT1;1.5;NEG");
  f.script.add(":SENSe:SWEep:POINts 2");
  f.script.add(":SENSe:SWEep:POINts?;:SENSe:SWEep:TINTerval?;:SYSTem:ERRor?", "2;5.0E-8" + no_error);
  const std::string no_trigger =
      "  sent 25 bytes \":INITiate:IMMediate;*OPC?\"\n"
      "  after 4.50 s\n"
      "  try: is the disc still turning? does the trigger level lie inside the signal?";
  SECTION("the instrument answers something else") {
    f.script.add(":INITiate:IMMediate;*OPC?");
    f.script.add(":SYSTem:ERRor?", "0,\"No error\"");
    CHECK(f.capture() ==
          begin + "no trigger came within 4.50 s, and the instrument answers: channel 1 did not fall through 1.5 V\n" +
              no_trigger);
    CHECK(f.code == base::ErrorCode::wait_ran_out);
  }
  SECTION("the instrument is silent altogether") {
    f.script.add(":INITiate:IMMediate;*OPC?");
    f.script.add(":SYSTem:ERRor?");
    CHECK(f.capture() == begin + "the capture was not completed: no answer within 4.50 s\n" + no_trigger);
    CHECK(f.code == base::ErrorCode::time_out);
  }
  CHECK(f.script.done());
}

TEST_CASE("oscilloscope: a rate or a memory that does not reach is told", "[phrasebook]") {
  Fixture f;
  f.make_ready();
  const std::string begin = "MEMORY0::scripted::INSTR: ";
  f.expect_sweep("\"XTIM:VOLT1\";1.0E-7;IMM" + no_error, "");
  CHECK_THAT(
      f.capture(),
      Catch::StartsWith(begin + "sample rate: asked at least 20 MSa/s, the instrument says an interval of 100 ns\n"));
  f.expect_sweep("\"XTIM:VOLT1\";5.0E-8;IMM" + no_error, "1;5.0E-8" + no_error);
  CHECK_THAT(f.capture(), Catch::StartsWith(begin + "memory: asked 2 Sa, the instrument says 1 Sa\n"));
  f.expect_sweep("\"XTIM:VOLT1\";5.0E-8;IMM" + no_error, "5000;5.0E-8" + no_error);
  CHECK_THAT(f.capture(), Catch::StartsWith(begin + "memory: asked 2 Sa, the instrument says 5 kSa\n"));
  f.expect_sweep("\"XTIM:VOLT1\";5.0E-8;IMM" + no_error, "2;1.0E-7" + no_error);
  CHECK_THAT(
      f.capture(),
      Catch::StartsWith(begin + "sample rate: asked at least 20 MSa/s, the instrument says an interval of 100 ns\n"));
  f.acquisition.duration_s = 1e9;
  f.expect_sweep("\"XTIM:VOLT1\";5.0E-8;IMM" + no_error, "");
  CHECK_THAT(f.capture(), Catch::Contains("are 2e+16 points"));
  CHECK(f.code == base::ErrorCode::bad_input);
}

TEST_CASE("oscilloscope: bad data are refused with the place", "[phrasebook]") {
  struct Row {
    std::string answer;
    std::string message;
  };
  const std::vector<Row> rows{
      {block_of({1.25F}) + no_error, "expected 2 samples of 4 bytes, 4 bytes came"},
      {block_of({1.25F, 1.0F, 1.0F}) + no_error, "expected 2 samples of 4 bytes, 12 bytes came"},
      {"#15abcde" + no_error, "expected 2 samples of 4 bytes, 5 bytes came"},
      {block_of({1.25F, std::numeric_limits<float>::quiet_NaN()}) + no_error, "sample 2 of 2 is no voltage (nan)"},
      {block_of({9.91e37F, 1.0F}) + no_error, "sample 1 of 2 is no voltage (9.91e+37)"},
  };
  for (const Row& row : rows) {
    Fixture f;
    f.make_ready();
    f.expect_sweep("\"XTIM:VOLT1\";5.0E-8;IMM" + no_error, "2;5.0E-8" + no_error);
    f.expect_record(row.answer);
    CHECK_THAT(f.capture(), Catch::StartsWith("MEMORY0::scripted::INSTR: " + row.message + "\n"));
    CHECK(f.code == base::ErrorCode::bad_answer);
    CHECK(f.script.done());
  }
}

TEST_CASE("oscilloscope: a record that a knob has made stale is told by the instrument's own error, garbage as such",
          "[phrasebook]") {
  Fixture f;
  f.make_ready();
  f.expect_sweep("\"XTIM:VOLT1\";5.0E-8;IMM" + no_error, "2;5.0E-8" + no_error);
  f.expect_record("-230,\"Data corrupt or stale\"");
  f.script.add(":SYSTem:ERRor?", "0,\"No error\"");
  CHECK_THAT(f.capture(),
             Catch::StartsWith("MEMORY0::scripted::INSTR: the instrument reports -230 \"Data corrupt or stale\"\n"));
  CHECK(f.code == base::ErrorCode::instrument_error);
  Fixture garbage;
  garbage.make_ready();
  garbage.expect_sweep("\"XTIM:VOLT1\";5.0E-8;IMM" + no_error, "2;5.0E-8" + no_error);
  garbage.expect_record("stale");
  garbage.script.add(":SYSTem:ERRor?", "0,\"No error\"");
  CHECK_FALSE(garbage.capture().empty());
  CHECK(garbage.code == base::ErrorCode::bad_answer);
}

TEST_CASE("oscilloscope: a capture without set-up is refused before anything is sent", "[phrasebook]") {
  Fixture f;
  CHECK(f.capture() ==
        "MEMORY0::scripted::INSTR: channel 1 was not set up before the capture\n"
        "  try: put a set up for this signal into the opening");
  CHECK(f.script.messages == 0);
}

TEST_CASE("oscilloscope: its ability is what it says of its limits", "[phrasebook]") {
  Fixture f;
  f.script.add(":SENSe:SWEep:TINTerval? MINimum;:SENSe:SWEep:POINts? MAXimum;:SYSTem:ERRor?",
               "1.0E-9;10000000" + no_error);
  bench::OscilloscopeAbility ability;
  const auto ask = [](bench::Oscilloscope& scope, bench::OscilloscopeAbility& into) -> task<> {
    into = co_await scope.ability(1s);
  };
  CHECK(f.run(ask(*f.scope, ability)).empty());
  CHECK(ability.rate_hz_max == Approx(1e9));
  CHECK(ability.points_max == 10000000);
  CHECK(ability.channels == 0);
}

TEST_CASE("oscilloscope: a multimeter's phrasebook is refused", "[phrasebook]") {
  test::Simulated sim;
  test::Script script;
  CHECK_THROWS_WITH(
      phrasebook::open_oscilloscope(
          *sim.timeline, phrasebook::find_phrasebook(phrasebook::standard_phrasebooks(), "standard-multimeter"),
          std::make_unique<transport::Session>(*sim.timeline,
                                               std::make_unique<test::ScriptedLink>(*sim.timeline, script))),
      "the phrasebook 'standard-multimeter' is for a multimeter, not for an oscilloscope\n"
      "  try: name another phrasebook in the bench file");
}
