// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/multimeter.hpp"

#include <catch2/catch.hpp>

#include "tests/support/instrument_dialogue.hpp"
#include "tests/support/number.hpp"
#include "tests/support/test_signal.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;
using namespace std::chrono_literals;

namespace {

MeterClass perfect() { return {.of_reading = 0, .of_range = 0, .noise_of_range = 0, .line_hz = 50}; }

struct Meter {
  explicit Meter(const MeterClass& meter_class = perfect(), std::uint64_t seed = 1)
      : device(*sim.timeline, meter_class, base::Random(seed)) {}

  test::Simulated sim;
  SimulatedMultimeter device;
  test::Dialogue ask{sim, device};
};

}  // namespace

TEST_CASE("multimeter: reads the mean of its aperture, which takes its time", "[sim]") {
  Meter meter;
  const auto place = test::sine_source(2.93, 0.5, 50);
  meter.device.connect(place, {10e6, 110e-12});
  CHECK(test::point_number(meter.ask("MEAS:VOLT:DC? 10,1E-5")) == Approx(2.93).margin(1e-5));
  CHECK(base::to_seconds(meter.sim.timeline->now()) == Approx(0.2).margin(1e-6));
  CHECK(place->last_load.capacitance_f == 110e-12);
  CHECK(place->last_end_s <= base::to_seconds(meter.sim.timeline->now()));
  // A quarter of a period, not a whole one: the sine shows.
  meter.ask("VOLT:APER 5E-3");
  meter.ask.pass(0ms);
  const double quarter = test::point_number(meter.ask("READ?"));
  CHECK(std::abs(quarter - 2.93) > 0.1);
}

TEST_CASE("multimeter: aperture and line cycles are one setting, ranges step by ten", "[sim]") {
  Meter meter;
  CHECK(meter.ask("VOLT:APER 0.1;NPLC?") == "5.000000000E+00");
  CHECK(meter.ask("VOLT:NPLC 1;APER?") == "2.000000000E-02");
  CHECK(meter.ask("SENS:VOLT:DC:RANG 2.5;RANG?;RANG:AUTO?") == "1.000000000E+01;0");
  CHECK(meter.ask("VOLT:RANG:AUTO ON;AUTO?") == "1");
  CHECK(meter.ask("CONF:VOLT:DC 0.5,1E-5;:CONF?") == "\"VOLT 1.00E+00,1.00E-05\"");
  CHECK(meter.ask.error() == 0);
}

TEST_CASE("multimeter: beyond its range it reads overload", "[sim]") {
  Meter meter;
  meter.device.connect(test::constant_source(5));
  CHECK(meter.ask("CONF:VOLT:DC 1;:READ?") == "9.9E+37");
  CHECK(meter.ask("VOLT:RANG:AUTO ON;:READ?") == "5.00000000E+00");
}

TEST_CASE("multimeter: the errors of many meters fill their class evenly", "[sim]") {
  // Truth at 5 V in the 10 V range: sum of two rectangular errors, +-0.05 % of 5 V and +-0.02 % of 10 V, so a standard
  // deviation of sqrt(2.5^2 + 2^2) / sqrt 3 mV; 1000 meters give it to about 2 %, so 8 %.
  double squares = 0;
  double largest = 0;
  for (std::uint64_t seed = 0; seed < 1000; ++seed) {
    Meter meter({.of_reading = 0.0005, .of_range = 0.0002, .noise_of_range = 0, .line_hz = 50}, seed);
    meter.device.connect(test::constant_source(5));
    const double error = test::point_number(meter.ask("CONF:VOLT:DC 10,1E-6;:READ?")) - 5;
    squares += error * error;
    largest = std::max(largest, std::abs(error));
  }
  CHECK(std::sqrt(squares / 1000) == Approx(std::hypot(2.5e-3, 2e-3) / std::sqrt(3.0)).epsilon(0.08));
  CHECK(largest <= 4.5e-3 + 1e-6);
}

TEST_CASE("multimeter: a reading is held until something changes, then it is stale", "[sim]") {
  Meter meter;
  meter.device.connect(test::constant_source(1));
  meter.ask("FETC?");
  CHECK(meter.ask.error() == -230);
  meter.ask("INIT");
  CHECK(meter.ask("FETC?") == "1.00000000E+00");
  CHECK(meter.ask("FETC?") == "1.00000000E+00");
  meter.ask("VOLT:RANG 10;:FETC?");
  CHECK(meter.ask.error() == -230);
}

TEST_CASE("multimeter: bus trigger, deadlock and what is not idle", "[sim]") {
  Meter meter;
  meter.device.connect(test::constant_source(1));
  meter.ask("TRIG:SOUR BUS;:READ?");
  CHECK(meter.ask.error() == -214);
  meter.ask("*TRG");
  CHECK(meter.ask.error() == -211);
  meter.ask("INIT");
  CHECK(meter.ask("STAT:OPER:COND?") == "32");
  meter.ask("INIT");
  CHECK(meter.ask.error() == -213);
  meter.ask("*TRG");
  CHECK(meter.ask("FETC?") == "1.00000000E+00");
  meter.ask("INIT;ABOR");
  CHECK(meter.ask("STAT:OPER:COND?;:TRIG:SOUR?") == "0;BUS");
  meter.ask("FUNC \"RES\"");
  CHECK(meter.ask.error() == -224);
  CHECK(meter.ask("FUNC \"VOLT:DC\";FUNC?") == "\"VOLT\"");
}
