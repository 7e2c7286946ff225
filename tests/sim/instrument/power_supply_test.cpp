// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/power_supply.hpp"

#include <catch2/catch.hpp>

#include "tests/support/instrument_dialogue.hpp"
#include "tests/support/number.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;
using namespace std::chrono_literals;

namespace {

struct Supply {
  explicit Supply(const SupplyClass& supply_class = {.outputs = 2, .of_voltage = 0, .of_current = 0},
                  std::uint64_t seed = 1)
      : device(*sim.timeline, supply_class, base::Random(seed)) {}

  test::Simulated sim;
  SimulatedPowerSupply device;
  test::Dialogue ask{sim, device};
};

}  // namespace

TEST_CASE("power supply: settings read back in its steps, each output has its own", "[sim]") {
  Supply supply;
  CHECK(supply.ask("VOLT 5.0004;CURR 0.25;:SOUR2:VOLT 3;:VOLT?;CURR?;:SOUR2:VOLT?;:VOLT:PROT?") ==
        "5.000000000E+00;2.500000000E-01;3.000000000E+00;3.520000000E+01");
  CHECK(supply.ask("OUTP2 ON;:OUTP1?;:OUTP2:STAT?") == "0;1");
  CHECK(supply.ask("*RST;:SOUR2:VOLT?;:OUTP2?;:CURR? MAX") == "0.000000000E+00;0;3.000000000E+00");
  CHECK(supply.ask.error() == 0);
}

TEST_CASE("power supply: the voltage settles with its time constant, and is an operation until then", "[sim]") {
  Supply supply;
  supply.ask("VOLT 10;:OUTP ON");
  CHECK(supply.ask("STAT:OPER:COND?") == "2");
  supply.ask.pass(3ms);
  // One time constant of 3 ms.
  CHECK(supply.device.true_voltage_v(1) == Approx(10 * (1 - std::exp(-1))).epsilon(1e-6));
  CHECK(supply.ask("*OPC?") == "1");
  CHECK(base::to_seconds(supply.sim.timeline->now()) == Approx(0.03).margin(1e-6));
  CHECK(supply.ask("STAT:OPER:COND?") == "0");
  CHECK(supply.ask("MEAS:VOLT?;CURR?") == "1.000000000E+01;0.000000000E+00");
}

TEST_CASE("power supply: a reading of nothing is off by no more than its class says, and is off", "[sim]") {
  double most_a = 0;
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    Supply supply({.outputs = 1, .of_voltage = 0, .of_current = 0, .offset_v = 0.05, .offset_a = 0.02}, seed);
    const double volts = std::abs(test::point_number(supply.ask("MEAS:VOLT?"))),
                 amperes = std::abs(test::point_number(supply.ask("MEAS:CURR?")));
    CHECK(volts <= 0.05 + 0.0005);
    CHECK(amperes <= 0.02 + 0.0005);  // and half a step of the display
    most_a = std::max(most_a, amperes);
  }
  // That none of 40 lies in the outer half has a chance of 1e-12.
  CHECK(most_a > 0.01);
}

TEST_CASE("power supply: below its load's need the limit holds the voltage down and says so", "[sim]") {
  Supply supply;
  supply.device.connect(2, 20);
  supply.ask("SOUR2:VOLT 10;CURR 0.1;:OUTP2 ON;*WAI");
  CHECK(supply.ask("MEAS:VOLT? (@2);:MEAS:CURR? (@2);:STAT:QUES:COND?") == "2.000000000E+00;1.000000000E-01;1");
  supply.ask("SOUR2:CURR 1;*WAI");
  CHECK(supply.ask("MEAS:VOLT? (@2);:STAT:QUES:COND?") == "1.000000000E+01;0");
}

TEST_CASE("power supply: above its protection an output switches itself off and stays so until it is cleared",
          "[sim]") {
  Supply supply;
  supply.ask("VOLT 5;VOLT:PROT 5.5;:OUTP ON;*WAI");
  supply.device.lift(1, 6);
  supply.ask.pass(30ms);
  CHECK(supply.ask("OUTP?;:VOLT:PROT:TRIP?") == "0;1");
  supply.device.lift(1, 0);
  supply.ask.pass(100ms);  // the terminals must be down before it is cleared
  supply.ask("OUTP ON");
  CHECK(supply.ask.error() == -221);
  supply.ask("VOLT:PROT:CLE;:OUTP ON;*WAI");
  CHECK(supply.ask("OUTP?;:VOLT:PROT:TRIP?") == "1;0");
}

TEST_CASE("power supply: what cannot be has the standard's error and changes nothing", "[sim]") {
  Supply supply;
  supply.ask("VOLT 5;VOLT:PROT 6");
  const std::pair<const char*, int> rows[] = {
      {"VOLT 33", -222},           {"VOLT -1", -222},      {"CURR 4", -222},   {"VOLT 7", -221},
      {"VOLT:PROT 4", -221},       {"SOUR3:VOLT 1", -114}, {"OUTP3 ON", -114}, {"MEAS:VOLT? (@3)", -222},
      {"MEAS:VOLT? (@1,2)", -224}, {"VOLT 1 A", -131},     {"OUTP", -109},     {"OUTP SIDEWAYS", -224},
  };
  for (const auto& [message, number] : rows) {
    CAPTURE(message);
    CHECK(supply.ask(message).empty());
    CHECK(supply.ask.error() == number);
  }
  CHECK(supply.ask("VOLT?;VOLT:PROT?;:OUTP?") == "5.000000000E+00;6.000000000E+00;0");
}

TEST_CASE("power supply: the errors of many supplies fill their class evenly", "[sim]") {
  // 10 V, set and read each within 0.1 %: rectangular, so a standard deviation of 10 mV / sqrt 3 times sqrt 2; 1000
  // supplies give it to about 2 %, so 8 %.
  double squares = 0;
  double largest = 0;
  for (std::uint64_t seed = 0; seed < 1000; ++seed) {
    Supply supply({.outputs = 1, .of_voltage = 0.001, .of_current = 0}, seed);
    const double error = test::point_number(supply.ask("VOLT 10;:OUTP ON;:MEAS:VOLT?")) - 10;
    squares += error * error;
    largest = std::max(largest, std::abs(error));
  }
  CHECK(std::sqrt(squares / 1000) == Approx(10e-3 * std::sqrt(2.0 / 3.0)).epsilon(0.08));
  CHECK(largest <= 20e-3 + 1e-3);
}
