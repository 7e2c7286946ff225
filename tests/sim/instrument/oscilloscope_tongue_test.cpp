// SPDX-License-Identifier: Apache-2.0
// The same record in three tongues: the volts are the same, whatever the form.
#include <catch2/catch.hpp>

#include "instruments/scpi/message/response_reader.hpp"
#include "sim/instrument/oscilloscope.hpp"
#include "tests/support/instrument_dialogue.hpp"
#include "tests/support/number.hpp"
#include "tests/support/test_signal.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;

namespace {

struct Scope {
  explicit Scope(Tongue tongue) : device(*sim.timeline, {}, base::Random(1), "Eyelevel,Scope,1,1", tongue) {
    device.connect(1, test::sine_source(1.6, 0.6, 200e3), {.factor = 10});
    ask("INP1:ATT 10;:VOLT1:RANG:PTP 2;OFFS 1.6;:SWE:POIN 500;TINT 5E-8");
  }

  test::Simulated sim;
  SimulatedOscilloscope device;
  test::Dialogue ask{sim, device};
};

std::vector<double> standard_volts() {
  Scope scope(Tongue::standard);
  scope.ask("FORM ASC,12;:INIT;*OPC?");
  const std::string answer = scope.ask("FETC:ARR:VOLT? (@1)");
  scpi::ResponseReader reader(answer);
  return reader.numbers();
}

std::string block_of(Scope& scope, const std::string& message) {
  const std::string answer = scope.ask(message);
  scpi::ResponseReader reader(answer);
  return std::string(reader.block());
}

}  // namespace

TEST_CASE("oscilloscope tongue: a numbered header gives the volts of unsigned codes", "[sim]") {
  const auto truth = standard_volts();
  REQUIRE(truth.size() == 500);
  Scope scope(Tongue::numbered_header);
  scope.ask("REC:SOUR CHAN1;FORM BYTE;:INIT;*OPC?");
  const std::string header = scope.ask("REC:PRE?");
  scpi::ResponseReader reader(header);
  const auto fields = reader.numbers();
  REQUIRE(fields.size() == 10);
  CHECK(fields[2] == 500);
  CHECK(fields[4] == Approx(5e-8));
  const std::string bytes = block_of(scope, "REC:STAR 1;STOP 500;DATA?");
  REQUIRE(bytes.size() == 500);
  for (std::size_t i = 0; i < truth.size(); ++i) {
    const double code = static_cast<unsigned char>(bytes[i]);
    CHECK((code - fields[9]) * fields[7] + fields[8] == Approx(truth[i]).margin(1e-9));
  }
  // In 16 bits, most significant byte first and last.
  const std::string high = block_of(scope, "REC:FORM WORD;BORD NORM;STAR 101;STOP 101;DATA?");
  const std::string low = block_of(scope, "REC:BORD SWAP;DATA?");
  REQUIRE(high.size() == 2);
  CHECK(high[0] == bytes[100]);
  CHECK(high[1] == '\0');
  CHECK(low == std::string{high[1], high[0]});
}

TEST_CASE("oscilloscope tongue: a keyed header gives the volts of signed codes", "[sim]") {
  const auto truth = standard_volts();
  Scope scope(Tongue::keyed_header);
  scope.ask("REC:SOUR CHAN1;FORM BYTE;:INIT;*OPC?");
  const std::string header = scope.ask("REC:PRE?");
  const auto value = [&](const std::string& key) {
    return test::point_number(header.substr(header.find(";" + key + " ") + key.size() + 2));
  };
  CHECK(value("POINTS") == 500);
  CHECK(value("INTERVAL") == Approx(5e-8));
  const std::string bytes = block_of(scope, "REC:STAR 1;STOP 500;DATA?");
  REQUIRE(bytes.size() == 500);
  for (std::size_t i = 0; i < truth.size(); ++i) {
    const double code = static_cast<signed char>(bytes[i]);
    CHECK((code - value("OFFSET")) * value("MULT") + value("ZERO") == Approx(truth[i]).margin(1e-9));
  }
}

TEST_CASE("oscilloscope tongue: what cannot be has the standard's error; the standard's own words are unknown",
          "[sim]") {
  for (const Tongue tongue : {Tongue::numbered_header, Tongue::keyed_header}) {
    Scope scope(tongue);
    const std::pair<const char*, int> before[] = {{"REC:PRE?", -230}, {"REC:DATA?", -230}};
    for (const auto& [message, number] : before) {
      CAPTURE(message);
      CHECK(scope.ask(message).empty());
      CHECK(scope.ask.error() == number);
    }
    scope.ask("INIT;*OPC?");
    const std::pair<const char*, int> rows[] = {
        {"REC:SOUR CHAN3", -224},
        {"REC:SOUR FUNC1", -224},
        {"REC:FORM ASC", -224},
        {"REC:STAR 0", -222},
        {"REC:STOP 0", -222},
        {"FETC?", -113},
        {"FORM REAL,32", -113},
        {"TRAC:CAT?", -113},
        {"REC:STAR 9;STOP 8;DATA?", -221},
        {"REC:STAR 1;STOP 501;DATA?", -221},
    };
    for (const auto& [message, number] : rows) {
      CAPTURE(message);
      CHECK(scope.ask(message).empty());
      CHECK(scope.ask.error() == number);
    }
    scope.ask("REC:SOUR CHANNEL2;:REC:FORM WORD;BORD SWAP");
    CHECK(scope.ask("REC:SOUR?;FORM?;BORD?") == "CHAN2;WORD;SWAP");
    CHECK(scope.ask("*RST;:REC:SOUR?;FORM?;BORD?;STAR?;STOP?") == "CHAN1;BYTE;NORM;1;1");
  }
}
