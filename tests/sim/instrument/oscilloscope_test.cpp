// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/oscilloscope.hpp"

#include <catch2/catch.hpp>

#include "instruments/scpi/message/response_reader.hpp"
#include "tests/support/instrument_dialogue.hpp"
#include "tests/support/test_signal.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;
using namespace std::chrono_literals;

namespace {

ScopeClass perfect() {
  ScopeClass scope_class;
  scope_class.gain_relative = scope_class.offset_in_v = scope_class.offset_of_range = scope_class.clock_relative = 0;
  scope_class.noise_in_v = scope_class.noise_of_range = 0;
  return scope_class;
}

struct Scope {
  explicit Scope(const ScopeClass& scope_class = perfect()) : device(*sim.timeline, scope_class, base::Random(1)) {}

  std::vector<double> volts(std::string_view message) {
    const std::string answer = ask(message);
    scpi::ResponseReader reader(answer);
    return reader.numbers();
  }

  test::Simulated sim;
  SimulatedOscilloscope device;
  test::Dialogue ask{sim, device};
};

}  // namespace

TEST_CASE("oscilloscope: the typical exchange of a digitiser gives the signal in volts at the probe tip", "[sim]") {
  Scope scope;
  // The pad of a player: 1.6 V mean, 1.2 V peak to peak, x10 probe.
  scope.device.connect(1, test::sine_source(1.6, 0.6, 200e3), {.factor = 10});
  scope.ask("*RST;*CLS");
  scope.ask("FUNC \"XTIM:VOLT1\"");
  scope.ask("INP1:COUP DC;ATT 10;:VOLT1:RANG:PTP 2;OFFS 1.6");
  scope.ask("SWE:POIN 10000;TINT 5E-8");
  scope.ask("TRIG:SOUR INT1;LEV 1.6;SLOP POS");
  scope.ask("FORM ASC");
  CHECK(scope.ask("INIT;*OPC?") == "1");
  const auto volts = scope.volts("FETC:ARR:VOLT? (@1)");
  REQUIRE(volts.size() == 10000);
  // Triggered at the rising crossing; a step is 2 V / 255, half of it the conversion's error.
  const double half_step_v = 1.0 / 255;
  for (std::size_t i = 0; i < volts.size(); ++i) {
    const double truth = 1.6 + 0.6 * std::sin(2 * std::numbers::pi * 200e3 * 5e-8 * static_cast<double>(i));
    if (std::abs(volts[i] - truth) > half_step_v + 0.003)
      FAIL("sample " << i << " is " << volts[i] << ", not " << truth);
  }
  CHECK(scope.ask.error() == 0);
}

TEST_CASE("oscilloscope: every setting reads back, limits answer MIN and MAX", "[sim]") {
  Scope scope;
  scope.ask("INP2:COUP AC;ATT 10;FILT ON;:VOLT2:RANG:PTP 4;OFFS 0.5");
  CHECK(scope.ask("INP2:COUP?;ATT?;FILT?;FILT:FREQ?;:VOLT2:RANG:PTP?;OFFS?") ==
        "AC;1.000000000E+01;1;2.000000000E+07;4.000000000E+00;5.000000000E-01");
  CHECK(scope.ask("SWE:POIN 20000;TINT 5E-8;POIN?;TINT?") == "20000;5.000000000E-08");
  CHECK(scope.ask("SWE:POIN? MIN;POIN? MAX;TINT? MIN;TINT? MAX") == "2;10000000;1.000000000E-09;1.000000000E-03");
  CHECK(scope.ask("SWE:POIN 1001;TIME 1E-3;TINT?") == "1.000000000E-06");
  CHECK(scope.ask("SWE:OREF:LOC 0.5;LOC?;:SWE:OFFS:TIME 1E-3;TIME?") == "5.000000000E-01;1.000000000E-03");
  CHECK(scope.ask("TRIG:SOUR INT2;LEV 0.1;SLOP NEG;SOUR?;LEV?;SLOP?;COUP?") == "INT2;1.000000000E-01;NEG;DC");
  CHECK(scope.ask("FORM REAL,32;FORM:BORD SWAP;:FORM?;FORM:BORD?") == "REAL,32;SWAP");
  CHECK(scope.ask("FORM INT;FORM?") == "INT,16");
  CHECK(scope.ask("FUNC \"XTIM:VOLT2\";FUNC?") == "\"XTIM:VOLT2\"");
  CHECK(scope.ask.error() == 0);
  CHECK(scope.ask("*RST;INP2:ATT?;:SWE:POIN?;:FORM?;:TRIG:SOUR?") == "1.000000000E+00;1000;ASC,0;IMM");
}

TEST_CASE("oscilloscope: what cannot be set has the standard's error and changes nothing", "[sim]") {
  Scope scope;
  const std::pair<const char*, int> rows[] = {
      {"SWE:POIN 1", -222},
      {"SWE:POIN 20000000", -222},
      {"SWE:TINT 1", -222},
      {"INP3:COUP DC", -114},
      {"VOLT1:RANG:PTP 1 S", -131},
      {"TRIG:SOUR INT7", -224},
      {"FORM REAL,16", -224},
      {"FORM HEX", -224},
      {"INP1:COUP SIDEWAYS", -224},
      {"VOLT1:RANG:OFFS 100", -222},
      {"TRAC:DATA? NOSUCH", -224},
      {"FETC?", -230},
      {"TRIG", -211},
      {"*TRG", -211},
      {"TRIG:COUP AC", -221},
      {"FUNC \"XTIM:VOLT9\"", -224},
      {"FETC:ARR:VOLT? (@9)", -222},
      {"SWE:TIME 1000", -221},
  };
  for (const auto& [message, number] : rows) {
    CAPTURE(message);
    CHECK(scope.ask(message) == "");
    CHECK(scope.ask.error() == number);
  }
  CHECK(scope.ask("SWE:POIN?;TINT?") == "1000;1.000000000E-06");
}

TEST_CASE("oscilloscope: the offset is limited, most at the small ranges", "[sim]") {
  Scope scope;
  scope.ask("VOLT1:RANG:PTP 4;OFFS 30");
  CHECK(scope.ask("VOLT1:RANG:OFFS?;OFFS? MAX") == "3.000000000E+01;4.000000000E+01");
  scope.ask("VOLT1:RANG:PTP 0.5");
  CHECK(scope.ask("VOLT1:RANG:OFFS?;OFFS? MAX") == "1.000000000E+00;1.000000000E+00");
  scope.ask("VOLT1:RANG:OFFS 1.5");
  CHECK(scope.ask.error() == -222);
}

TEST_CASE("oscilloscope: clipped samples read exactly the ends of the range", "[sim]") {
  Scope scope;
  scope.device.connect(1, test::sine_source(0, 3, 1e3), {.factor = 1});
  scope.ask("VOLT1:RANG:PTP 2;OFFS 0.5;:SWE:POIN 1000;TINT 1E-6;:FORM ASC,9");
  const auto volts = scope.volts("READ:ARR:VOLT? (@1)");
  const auto [low, high] = std::minmax_element(volts.begin(), volts.end());
  CHECK(*low == Approx(-0.5).epsilon(1e-9));
  CHECK(*high == Approx(1.5).epsilon(1e-9));
}

TEST_CASE("oscilloscope: all formats tell the same record, the preamble gives the scale of the codes", "[sim]") {
  Scope scope(ScopeClass{});
  scope.device.connect(1, test::sine_source(1.6, 0.6, 200e3), {.factor = 10});
  scope.ask("INP1:ATT 10;:VOLT1:RANG:PTP 2;OFFS 1.6;:SWE:POIN 5000;TINT 5E-8;:FORM:BORD SWAP;:INIT;*OPC?");
  scope.ask("FORM REAL,32");
  std::vector<float> real(5000);
  {
    const std::string answer = scope.ask("FETC:ARR:VOLT? (@1)");
    const auto block = scpi::ResponseReader(answer).block();
    REQUIRE(block.size() == 20000);
    std::memcpy(real.data(), block.data(), block.size());
  }
  for (const int bits : {8, 16}) {
    CAPTURE(bits);
    scope.ask("FORM INT," + std::to_string(bits));
    const auto preamble = scope.volts("DATA:PRE? CH1");
    REQUIRE(preamble.size() == 7);
    CHECK(preamble[0] == 5000);
    CHECK(preamble[1] == 5e-8);
    CHECK(preamble[5] == Approx(0.6));
    CHECK(preamble[6] == Approx(2.6));
    const std::string answer = scope.ask("TRAC:DATA? CH1");
    const auto block = scpi::ResponseReader(answer).block();
    REQUIRE(block.size() == 5000U * static_cast<unsigned>(bits) / 8);
    for (std::size_t i = 0; i < 5000; ++i) {
      // NOLINTNEXTLINE(bugprone-signed-char-misuse): a code is a signed number, no character
      int code = static_cast<std::int8_t>(block[i * static_cast<unsigned>(bits) / 8]);
      if (bits == 16) {
        std::int16_t wide = 0;
        std::memcpy(&wide, block.data() + 2 * i, 2);
        code = wide;
      }
      if (static_cast<float>(preamble[4] + code * preamble[3]) != Approx(real[i]).margin(1e-6))
        FAIL("sample " << i << " differs");
    }
  }
  scope.ask("FORM ASC,9");
  const auto text = scope.volts("FETC?");
  REQUIRE(text.size() == 5000);
  for (std::size_t i = 0; i < 5000; ++i)
    if (static_cast<float>(text[i]) != Approx(real[i]).margin(1e-6)) FAIL("sample " << i << " differs");
}

TEST_CASE("oscilloscope: a probe factor that is not the real one reads wrong by it", "[sim]") {
  Scope scope;
  scope.device.connect(1, test::constant_source(1.5), {.factor = 10});
  scope.ask("INP1:ATT 1;:VOLT1:RANG:PTP 1;:SWE:POIN 10");
  CHECK(scope.volts("READ?")[0] == Approx(0.15).margin(1.0 / 255));
  scope.ask("INP1:ATT 10");
  CHECK(scope.volts("READ?")[0] == Approx(1.5).margin(10.0 / 255));
}

TEST_CASE("oscilloscope: a change of settings makes held data stale, a change of format does not", "[sim]") {
  Scope scope;
  scope.ask("SWE:POIN 2;:INIT;*OPC?");
  scope.ask("FORM REAL,32");
  CHECK_FALSE(scope.ask("FETC?").empty());
  scope.ask("INP1:COUP AC;:FETC?");
  CHECK(scope.ask.error() == -230);
}

TEST_CASE("oscilloscope: overlapped acquisition, waiting for a trigger that never comes, abort", "[sim]") {
  Scope scope;
  scope.device.connect(1, test::constant_source(1), {.factor = 1});
  scope.ask("TRIG:SOUR INT1;LEV 0.5;:INIT");
  scope.ask.pass(1s);
  CHECK(scope.ask("STAT:OPER:COND?") == "32");
  scope.ask("INIT");
  CHECK(scope.ask.error() == -213);
  scope.ask("ABOR");
  CHECK(scope.ask("STAT:OPER:COND?;*OPC?") == "0;1");
  scope.ask("INIT;:TRIG");
  CHECK(scope.ask("*OPC?") == "1");
  scope.ask("TRIG:SOUR BUS;:INIT");
  scope.ask("*TRG");
  CHECK(scope.ask("*OPC?;:FETC?").size() > 2);
  scope.ask("READ?");
  CHECK(scope.ask.error() == -214);
  scope.ask("INIT;*RST");
  CHECK(scope.ask("*OPC?") == "1");
}

TEST_CASE("oscilloscope: uploaded traces are kept as they came", "[sim]") {
  Scope scope;
  using namespace std::string_literals;
  const std::string upload = "#18\n\0;,\xff\"#1"s;
  scope.ask("TRAC:DATA MINE," + upload + ";:TRAC OTHER,1,2.5,-3E0");
  CHECK(scope.ask.error() == 0);
  CHECK(scope.ask("TRAC:DATA? MINE") == upload);
  CHECK(scope.ask("TRAC? mine") == upload);
  CHECK(scope.ask("TRAC:DATA? OTHER") == "1.000000E+00,2.500000E+00,-3.000000E+00");
  CHECK(scope.ask("TRAC:CAT?") == "\"CH1\",\"CH2\",\"MINE\",\"OTHER\"");
  CHECK(scope.ask("TRAC:POIN? MINE;POIN? OTHER;POIN? CH1") == "8;3;0");
  CHECK(scope.ask("TRAC:FREE?") == "134217696,32");
  scope.ask("TRAC:DEL MINE");
  CHECK(scope.ask("TRAC:CAT?") == "\"CH1\",\"CH2\",\"OTHER\"");
  scope.ask("TRAC:DATA CH1,1,2");
  CHECK(scope.ask.error() == -221);
  scope.ask("TRAC:DATA BIG");
  CHECK(scope.ask.error() == -109);
}

TEST_CASE("oscilloscope: the signal is never asked for before its time", "[sim]") {
  Scope scope;
  const auto place = test::sine_source(0, 1, 1e5);
  scope.device.connect(1, place, {.factor = 1, .compensation = 0.9});
  scope.ask("TRIG:SOUR INT1;:SWE:POIN 1000;TINT 1E-7;OREF:LOC 0.5");
  for (int i = 0; i < 20; ++i) {
    scope.ask("INP1:COUP " + std::string(i % 2 == 0 ? "AC" : "DC"));
    scope.ask("INIT;*OPC?");
    CHECK(place->last_end_s <= base::to_seconds(scope.sim.timeline->now()) + 1e-9);
    scope.ask.pass(37us);
  }
}

TEST_CASE("oscilloscope: a shallow memory answers its limit", "[sim]") {
  ScopeClass shallow = perfect();
  shallow.points_max = 2500;
  shallow.channels = 4;
  Scope scope(shallow);
  CHECK(scope.ask("SWE:POIN? MAX") == "2500");
  CHECK(scope.ask("INP4:COUP?") == "DC");
}
