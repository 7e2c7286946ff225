// SPDX-License-Identifier: Apache-2.0
// What all simulated instruments share, seen through the multimeter, the smallest of them.
#include "sim/instrument/scpi_instrument.hpp"

#include <catch2/catch.hpp>

#include "instruments/scpi/error.hpp"
#include "sim/instrument/multimeter.hpp"
#include "tests/support/instrument_dialogue.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

struct Meter {
  test::Simulated sim;
  sim::SimulatedMultimeter device{*sim.timeline, {}, base::Random(1)};
  test::Dialogue ask{sim, device};
};

}  // namespace

TEST_CASE("instruments: identity, version and capability as the standards want them", "[sim]") {
  Meter meter;
  CHECK(meter.ask("*IDN?") == "Eyelevel,Simulated multimeter,0,1.0");
  CHECK(meter.ask("SYST:VERS?") == "1999.0");  // SCPI-99 Vol. 2, 21.21
  CHECK(meter.ask("SYST:CAP?") == "\"DCVOLTMETER\"");
  CHECK(meter.ask("*TST?") == "0");
  CHECK(meter.ask("SYST:COMM:TCP:CONT?") == "0");
}

TEST_CASE("instruments: several queries make one response message", "[sim]") {
  Meter meter;
  CHECK(meter.ask("*ESE 36;*ESE?;*SRE 255;*SRE?;*OPC?") == "36;191;1");  // IEEE 488.2, 8.4 and 10.34
}

TEST_CASE("instruments: errors queue up with their standard numbers and event bits", "[sim]") {
  Meter meter;
  CHECK(meter.ask("*ESR?") == "128");
  CHECK(meter.ask("VOLTA:RANG 1") == "");
  CHECK(meter.ask("VOLT:RANG 1E6;*ESE 999") == "");
  CHECK(meter.ask("*ESR?") == "48");
  CHECK(meter.ask("SYST:ERR:COUN?") == "3");
  CHECK(meter.ask("SYST:ERR?") == "-113,\"Undefined header;VOLTA:RANG\"");
  CHECK(meter.ask("SYST:ERR:CODE?") == "-222");
  CHECK(meter.ask("SYST:ERR:ALL?") == "-222,\"Data out of range;999\"");
  CHECK(meter.ask("SYST:ERR?") == "0,\"No error\"");
  CHECK(meter.ask("SYST:ERR:CODE:ALL?") == "0");
}

TEST_CASE("instruments: a command error ends its message, an execution error only its unit", "[sim]") {
  Meter meter;
  CHECK(meter.ask("*ESE 1;NONSENSE;*ESE 2") == "");
  CHECK(meter.ask("*ESE?") == "1");
  CHECK(meter.ask("*ESE 300;*ESE 2;*ESE?") == "2");
  CHECK(meter.ask.error() == -113);
  CHECK(meter.ask.error() == -222);
}

TEST_CASE("instruments: too few and too many parameters are told apart", "[sim]") {
  Meter meter;
  meter.ask("VOLT:RANG");
  CHECK(meter.ask.error() == -109);
  meter.ask("VOLT:RANG 1,2");
  CHECK(meter.ask.error() == -108);
  meter.ask("VOLT:RANG? 5");
  CHECK(meter.ask.error() == -128);
  CHECK(meter.ask("VOLT:NPLC? MIN;NPLC? MAX;NPLC? DEF") == "1.000000000E-02;1.000000000E+02;1.000000000E+01");
}

TEST_CASE("instruments: *OPC sets its event bit when the operation has ended, *CLS forgets it", "[sim]") {
  Meter meter;
  meter.ask("*CLS;*ESE 1;*SRE 32;VOLT:APER 0.1");
  meter.ask("INIT;*OPC");
  CHECK(meter.ask("*ESR?") == "0");
  CHECK(meter.ask("STAT:OPER:COND?") == "16");
  meter.ask.pass(200ms);
  CHECK(meter.ask("*STB?") == "96");  // ESB and MSS
  CHECK(meter.ask("*ESR?") == "1");
  CHECK(meter.ask("STAT:OPER?") == "48");  // waited for trigger, measured
  meter.ask("INIT;*OPC;*CLS");
  meter.ask.pass(200ms);
  CHECK(meter.ask("*ESR?") == "0");
}

TEST_CASE("instruments: *OPC? and *WAI wait for the operation, in simulated time", "[sim]") {
  Meter meter;
  meter.ask("VOLT:APER 0.5");
  CHECK(meter.ask("INIT;*OPC?") == "1");
  CHECK(base::to_seconds(meter.sim.timeline->now()) == Approx(0.5).margin(1e-6));
  meter.ask("INIT;*WAI;*ESE 4");
  CHECK(base::to_seconds(meter.sim.timeline->now()) == Approx(1.0).margin(1e-6));
}

TEST_CASE("instruments: status registers answer and are preset", "[sim]") {
  Meter meter;
  CHECK(meter.ask("STAT:OPER:ENAB 16;PTR 0;NTR 16;ENAB?;PTR?;NTR?") == "16;0;16");
  meter.ask("STAT:PRES");
  CHECK(meter.ask("STAT:OPER:ENAB?;PTR?;NTR?") == "0;32767;0");
  CHECK(meter.ask("STAT:QUES:COND?;EVEN?") == "0;0");
}

TEST_CASE("instruments: a command may be made to have no effect, and an error to appear", "[sim]") {
  Meter meter;
  meter.device.ignore_command("volt:dc:rang:upp");
  CHECK(meter.ask("VOLT:RANG 1;RANG?") == "1.000000000E+01");
  CHECK(meter.ask.error() == 0);
  meter.device.raise_error(-240, "fan");
  CHECK(meter.ask("SYST:ERR?") == "-240,\"Hardware error;fan\"");
  CHECK_THROWS_AS(meter.device.ignore_command("NONSENSE"), scpi::CommandError);
}

// Vector of the interface facts: ESE 1, SRE 32, INIT;*OPC done -> STB 0x20; serial poll 0x60 once, then 0x20.
TEST_CASE("instruments: the end of an operation requests service while nobody asks, and a poll takes the request",
          "[sim]") {
  Meter meter;
  CHECK(meter.ask("*CLS;*ESE 1;*SRE 32;:VOLT:NPLC 50") == "");
  CHECK(meter.ask("INIT;*OPC") == "");
  CHECK(meter.device.service_requests() == 0);
  std::uint64_t count = 0;
  const auto wait = [&]() -> task<> { count = co_await meter.device.service_requested(0); };
  meter.sim.run(wait());
  CHECK(count == 1);
  CHECK(base::to_seconds(meter.sim.timeline->now()) >= 1.0);  // fifty cycles of 50 Hz
  CHECK(int{meter.device.status_byte(false)} == 0x60);
  CHECK(int{meter.device.serial_poll(false)} == 0x60);
  CHECK(int{meter.device.serial_poll(false)} == 0x20);
  CHECK(meter.ask("*STB?") == "96");
}
