// SPDX-License-Identifier: Apache-2.0
// CONFigure and MEASure of the simulated oscilloscope, and what one record costs.
#include <catch2/catch.hpp>

#include "instruments/scpi/message/response_reader.hpp"
#include "sim/instrument/oscilloscope.hpp"
#include "tests/support/instrument_dialogue.hpp"
#include "tests/support/test_signal.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;

namespace {

struct Scope {
  test::Simulated sim;
  SimulatedOscilloscope device{*sim.timeline, {}, base::Random(1)};
  test::Dialogue ask{sim, device};
};

}  // namespace

TEST_CASE("oscilloscope data: CONFigure and MEASure take size, expectation and channel", "[sim]") {
  Scope scope;
  scope.device.connect(2, test::constant_source(0.25), {.factor = 1});
  const std::string answer = scope.ask("MEAS:ARR:VOLT? (50),0.5,DEF,(@2)");
  CHECK(scope.ask.error() == 0);
  scpi::ResponseReader reader(answer);
  const auto volts = reader.numbers();
  REQUIRE(volts.size() == 50);
  // Class: 1.5 % gain, 1 mV, 0.2 % of 1 V; noise 1.5 mV (4 sigma), half a step of 1 V / 255.
  CHECK(volts[0] == Approx(0.25).margin(0.25 * 0.015 + 0.001 + 0.002 + 0.006 + 0.002));
  CHECK(scope.ask("SWE:POIN?;:VOLT2:RANG:PTP?;:CONF?") == "50;1.000000000E+00;\"ARR:VOLT (50)\"");
  scope.ask("CONF:ARR:VOLT 100");
  CHECK(scope.ask("SWE:POIN?") == "100");
  scope.ask("CONF:ARR:VOLT (x)");
  CHECK(scope.ask.error() == -171);
  scope.ask("FETC:ARR:VOLT? (@1,2)");
  CHECK(scope.ask.error() == -224);
}

TEST_CASE("oscilloscope data: the preamble needs a record of a measured trace", "[sim]") {
  Scope scope;
  scope.ask("DATA:PRE? CH1");
  CHECK(scope.ask.error() == -230);
  scope.ask("DATA:PRE? MINE");
  CHECK(scope.ask.error() == -224);
  scope.ask("SWE:POIN 10;:INIT;*OPC?");
  CHECK_THAT(scope.ask("TRAC:PRE? CH1"), Catch::StartsWith("10,1.000000000E-06,0.000000000E+00,"));
}

TEST_CASE("oscilloscope data: the same seed gives the same record, another seed another", "[sim]") {
  const auto record = [](std::uint64_t seed) {
    test::Simulated sim;
    SimulatedOscilloscope device(*sim.timeline, {}, base::Random(seed));
    device.connect(1, test::sine_source(0, 0.5, 1e5), {.factor = 1});
    test::Dialogue ask(sim, device);
    return ask("FORM INT,8;:READ?");
  };
  CHECK(record(1) == record(1));
  CHECK(record(1) != record(2));
}

TEST_CASE("oscilloscope data: the shortest and the longest record, at the least and the longest interval", "[sim]") {
  Scope scope;
  const auto bytes_of = [&](const std::string& message) {
    const std::string answer = scope.ask(message);
    return scpi::ResponseReader(answer).block().size();
  };
  for (const std::string interval : {"1E-9", "1E-3"}) {
    CHECK(bytes_of("FORM INT,8;:SWE:POIN 2;TINT " + interval + ";:READ?") == 2);
    CHECK(bytes_of("FORM INT,16;:FETC?") == 4);
    CHECK(bytes_of("FORM REAL,32;:FETC?") == 8);
  }
  CHECK(bytes_of("FORM INT,8;:SWE:POIN 10000000;TINT 1E-9;:READ?") == 10'000'000);
  CHECK(bytes_of("FORM INT,16;:FETC?") == 20'000'000);
  CHECK(bytes_of("FORM REAL,32;:FETC?") == 40'000'000);
  CHECK(scope.ask.error() == 0);
}

TEST_CASE("oscilloscope data: a trace that is not there has its error, whatever is asked of it", "[sim]") {
  Scope scope;
  scope.ask("TRAC:DATA MINE,#13abc;:TRAC:DEL MINE");
  CHECK(scope.ask.error() == 0);
  for (const char* message : {"TRAC:DATA? MINE", "TRAC:POIN? MINE", "TRAC:DEL MINE", "TRAC:PRE? MINE"}) {
    CAPTURE(message);
    CHECK(scope.ask(message).empty());
    CHECK(scope.ask.error() == -224);
  }
}
