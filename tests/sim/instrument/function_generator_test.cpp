// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/function_generator.hpp"

#include <catch2/catch.hpp>

#include "tests/support/instrument_dialogue.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;
using namespace std::chrono_literals;

namespace {

struct Generator {
  explicit Generator(const GeneratorClass& generator_class = {.outputs = 2, .of_frequency = 0, .of_amplitude = 0},
                     std::uint64_t seed = 1)
      : device(*sim.timeline, generator_class, base::Random(seed)) {}

  test::Simulated sim;
  SimulatedFunctionGenerator device;
  test::Dialogue ask{sim, device};
};

}  // namespace

TEST_CASE("function generator: settings read back, each output has its own, reset switches off", "[sim]") {
  Generator g;
  g.ask("SOUR2:FUNC TRI;FREQ 1 KHZ;VOLT 2;VOLT:OFFS -0.5;:OUTP2 ON");
  CHECK(g.ask("SOUR2:FUNC?;FREQ?;VOLT?;VOLT:OFFS?;UNIT?;:OUTP2?") ==
        "TRI;1.000000000E+03;2.000000000E+00;-5.000000000E-01;VPP;1");
  CHECK(g.ask("FUNC?;:OUTP1?") == "SIN;0");
  CHECK(g.ask.error() == 0);
  CHECK(g.ask("*RST;:SOUR2:FUNC?;:OUTP2?") == "SIN;0");
}

TEST_CASE("function generator: what cannot be has the standard's error and changes nothing", "[sim]") {
  Generator g;
  const std::pair<const char*, int> rows[] = {
      {"FREQ 30 MHZ", -222},
      {"FREQ 0", -222},
      {"VOLT 21", -222},
      {"VOLT:OFFS -11", -222},
      {"VOLT 1 HZ", -131},
      {"FUNC SAW", -224},
      {"SOUR3:FREQ 1", -114},
      {"VOLT:UNIT VRMS", -224},
      {"OUTP", -109},
      {"OUTP 3,4", -108},
      {"VOLT 12;:VOLT:OFFS 5", -221},
  };
  for (const auto& [message, number] : rows) {
    CAPTURE(message);
    g.ask("*RST");
    CHECK(g.ask(message).empty());
    CHECK(g.ask.error() == number);
  }
  CHECK(g.ask("*RST;:FREQ?;:VOLT:OFFS?") == "1.000000000E+03;0.000000000E+00");
}

TEST_CASE("function generator: the place behind an output outlives the instrument", "[sim]") {
  std::shared_ptr<SignalSource> place;
  {
    Generator g;
    g.ask("VOLT 2;VOLT:OFFS 1;:FUNC SQU;:OUTP ON");
    place = g.device.place(1);
  }
  CHECK(place->mean_v(0, 1e-4, {}) == Approx(2));  // the first tenth of a period of 1 ms: 1 V + 1 V
}

TEST_CASE("function generator: the errors of many fill their class evenly", "[sim]") {
  // Rectangular within 1 %: standard deviation 1 % / sqrt 3, from 1000 to about 2 %, so 8 %.
  double squares = 0;
  double largest = 0;
  for (std::uint64_t seed = 0; seed < 1000; ++seed) {
    Generator g({.outputs = 1, .of_frequency = 0, .of_amplitude = 0.01}, seed);
    g.ask("VOLT 2;:FUNC SQU;:OUTP ON");
    const double error = g.device.place(1)->mean_v(0, 1e-4, {}) - 1;
    squares += error * error;
    largest = std::max(largest, std::abs(error));
  }
  CHECK(std::sqrt(squares / 1000) == Approx(0.01 / std::sqrt(3.0)).epsilon(0.08));
  CHECK(largest <= 0.01);
}
