// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/counter.hpp"

#include <catch2/catch.hpp>

#include "tests/support/instrument_dialogue.hpp"
#include "tests/support/number.hpp"
#include "tests/support/test_signal.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;
using namespace std::chrono_literals;

namespace {

struct Counted {
  explicit Counted(const CounterClass& counter_class = {.inputs = 2, .of_frequency = 0}, std::uint64_t seed = 1)
      : device(*sim.timeline, counter_class, base::Random(seed)) {}

  test::Simulated sim;
  SimulatedCounter device;
  test::Dialogue ask{sim, device};
};

}  // namespace

TEST_CASE(
    "counter: the frequency is that from the first to the last crossing, noise below its hysteresis does not count",
    "[sim]") {
  // 1234.5 Hz with 4 mV of 1 MHz on it: each slow crossing has many small ones, all within 10 mV.
  const auto source = std::make_shared<test::FunctionSource>([](double t) {
    return 0.5 * std::sin(2 * std::numbers::pi * 1234.5 * t) + 0.004 * std::sin(2 * std::numbers::pi * 1e6 * t);
  });
  const auto hz = counted_frequency(*source, {}, 0, 0, 0.02);
  REQUIRE(hz);
  // 24 periods in 20 ms; noise of 4 mV moves a crossing by 1 us of 19.4 ms at each end.
  CHECK(*hz == Approx(1234.5).epsilon(2e-4));
  CHECK_FALSE(counted_frequency(*source, {}, 0.6, 0, 0.02));
  CHECK_FALSE(counted_frequency(*source, {}, 0, 0, 0.0005));
}

TEST_CASE("counter: a reading takes its gate, of the input that is named", "[sim]") {
  Counted c;
  c.device.connect(1, test::sine_source(1, 0.5, 10e3));
  c.device.connect(2, test::sine_source(0, 0.5, 250e3));
  c.ask("FREQ:APER 5E-3;:FUNC \"FREQ\"");
  CHECK(test::point_number(c.ask("READ?")) == Approx(10e3).epsilon(1e-5));
  CHECK(base::to_seconds(c.sim.timeline->now()) == Approx(5e-3).margin(1e-6));
  CHECK(test::point_number(c.ask("READ? (@2)")) == Approx(250e3).epsilon(1e-5));
  CHECK(c.ask("FETC?") == c.ask("FETC?"));
  c.ask("INP1:COUP DC;:FETC?");
  CHECK(c.ask.error() == -230);
  CHECK(c.ask("READ?") == "9.91E+37");  // 0.5 V to 1.5 V never crosses 0 V
  c.ask("EVEN1:LEV 1");
  CHECK(test::point_number(c.ask("READ?")) == Approx(10e3).epsilon(1e-5));
}

TEST_CASE("counter: settings read back, what cannot be has the standard's error", "[sim]") {
  Counted c;
  CHECK(c.ask("INP2:COUP DC;:EVEN2:LEV 0.5;:FREQ:APER 1;:TRIG:SOUR BUS;:INP2:COUP?;:EVEN2:LEV?;:FREQ:APER?;:TRIG:SOUR?;"
              ":FUNC?") == "DC;5.000000000E-01;1.000000000E+00;BUS;\"FREQ\"");
  const std::pair<const char*, int> rows[] = {
      {"FUNC \"PER\"", -224},   {"INP3:COUP AC", -114}, {"EVEN1:LEV 9", -222}, {"FREQ:APER 100", -222},
      {"READ? (@3)", -222},     {"READ? (@1,2)", -224}, {"READ?", -214},       {"*TRG", -211},
      {"TRIG:SOUR LINE", -224}, {"FETC?", -230},
  };
  for (const auto& [message, number] : rows) {
    CAPTURE(message);
    CHECK(c.ask(message).empty());
    CHECK(c.ask.error() == number);
  }
}

TEST_CASE("counter: waits for its bus trigger, and ABORt ends the wait", "[sim]") {
  Counted c;
  c.device.connect(1, test::sine_source(0, 0.5, 10e3));
  c.ask("TRIG:SOUR BUS;:FREQ:APER 1E-3;:INIT");
  CHECK(c.ask("STAT:OPER:COND?") == "32");
  c.ask("*TRG");
  CHECK(c.ask("STAT:OPER:COND?") == "16");
  CHECK(test::point_number(c.ask("FETC?")) == Approx(10e3).epsilon(1e-4));
  c.ask("INIT;ABOR");
  CHECK(c.ask("STAT:OPER:COND?") == "0");
}

TEST_CASE("counter: its time base is off by what the class allows", "[sim]") {
  double largest = 0;
  for (std::uint64_t seed = 0; seed < 100; ++seed) {
    Counted c({.inputs = 1, .of_frequency = 1e-3}, seed);
    c.device.connect(1, test::sine_source(0, 0.5, 100e3));
    largest = std::max(largest, std::abs(test::point_number(c.ask("FREQ:APER 1E-3;:READ?")) / 100e3 - 1));
  }
  // The chance that none of 100 lies beyond 90 % of the half-width is 0.9^100 = 3e-5.
  CHECK(largest > 0.9e-3);
  CHECK(largest <= 1e-3 + 1e-5);
}
