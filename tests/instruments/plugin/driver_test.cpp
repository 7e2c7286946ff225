// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/driver.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "core/bench/kind/counter.hpp"
#include "core/bench/kind/function_generator.hpp"
#include "core/bench/kind/multimeter.hpp"
#include "core/bench/kind/power_supply.hpp"
#include "core/bench/kind/relay_box.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;
using Catch::Matchers::Contains;

namespace {

// A driver that answers what its test says, and what it was asked.
struct Driven {
  std::vector<registers::Question> asked;
  registers::Answer answer;
  std::string kind = "multimeter";
  bool is_for_another = false;  // the driver, than the instrument is

  std::unique_ptr<bench::Instrument> open(base::Timeline& timeline) {
    auto part = std::make_shared<registers::OutsidePart>();
    part->kind = registers::PartKind::driver;
    part->declaration.name = "shelf-meter";
    part->declaration.from = "plugin test";
    part->instrument = "multimeter";
    if (!is_for_another) part->instrument = kind;
    part->call = [this](registers::Question question, base::Timeline&, base::Duration) -> task<registers::Answer> {
      asked.push_back(question);
      co_return answer;
    };
    bench::InstrumentEntry entry;
    entry.role = "meter";
    entry.kind = kind;
    entry.resource = "shelf 1";
    return plugin::open_driver(part, entry, timeline);
  }

  template <class Kind, class Do>
  std::string run(Do what) {
    test::Simulated sim;
    const auto instrument = open(*sim.timeline);
    std::string said = "fine";
    sim.run([](Kind& it, Do todo, std::string& out) -> task<> {
      try {
        co_await todo(it);
      } catch (const base::Error& error) {
        out = error.what();
      }
    }(dynamic_cast<Kind&>(*instrument), what, said));
    return said;
  }
};

task<> set_up(bench::Multimeter& meter) { co_await meter.set_up_dc({.range_v = 5, .aperture_s = 0.02}, 1s); }
task<> read_it(bench::Multimeter& meter) {
  // Outside of the check, which would keep what is thrown to itself.
  const double value = co_await meter.read_dc(1s);
  CHECK(value == 2.5);
}
task<> greet(bench::Multimeter& meter) {
  const std::string name = co_await meter.greet(1s);
  CHECK(name == "who");
}
task<> count(bench::Counter& counter) {
  co_await counter.set_up_frequency({.input = 2, .coupling = bench::Coupling::ac, .level_v = 0.5, .gate_s = 0.1}, 1s);
}

}  // namespace

TEST_CASE("driver: a multimeter is set up by its plugin, and what was taken is read back", "[plugin]") {
  Driven driven;
  driven.answer.numbers = {{"range", 10}, {"aperture", 0.02}};
  CHECK(driven.run<bench::Multimeter>(set_up) == "fine");
  REQUIRE(driven.asked.size() == 1);
  CHECK(driven.asked[0].ask == "set up");
  CHECK(std::get<double>(driven.asked[0].values.at("range")) == 5);
  CHECK(std::get<std::string>(driven.asked[0].values.at("resource")) == "shelf 1");
}

TEST_CASE("driver: a setting that was not taken, or is not read back, is told", "[plugin]") {
  Driven driven;
  driven.answer.numbers = {{"range", 2}, {"aperture", 0.02}};
  CHECK_THAT(driven.run<bench::Multimeter>(set_up),
             Contains("meter (shelf 1), driver 'shelf-meter' of plugin test: range: 5 V was asked, 2 V is set"));
  driven.answer.numbers = {{"range", 10}, {"aperture", 0.2}};
  CHECK_THAT(driven.run<bench::Multimeter>(set_up), Contains("aperture: 20 ms was asked, 200 ms is set"));
  driven.answer.numbers = {{"range", 10}};
  CHECK_THAT(driven.run<bench::Multimeter>(set_up), Contains("does not read back 'aperture'"));
}

TEST_CASE("driver: a reading must be there, in its unit, a number; a greeting must say something", "[plugin]") {
  Driven driven;
  driven.answer.reading = registers::OutsideReading{.value = 2.5, .unit = "V"};
  CHECK(driven.run<bench::Multimeter>(read_it) == "fine");
  driven.answer.reading->unit = "A";
  CHECK_THAT(driven.run<bench::Multimeter>(read_it), Contains("reads in 'A' where 'V' is asked"));
  driven.answer.reading.reset();
  CHECK_THAT(driven.run<bench::Multimeter>(read_it), Contains("gives no reading"));
  CHECK_THAT(driven.run<bench::Multimeter>(greet), Contains("does not say who"));
  driven.answer.text = "who";
  CHECK(driven.run<bench::Multimeter>(greet) == "fine");
}

TEST_CASE("driver: a counter is driven likewise", "[plugin]") {
  Driven driven;
  driven.kind = "counter";
  driven.answer.numbers = {{"input", 2}, {"level", 0.5}, {"gate", 0.1}};
  CHECK(driven.run<bench::Counter>(count) == "fine");
  CHECK(std::get<std::string>(driven.asked[0].values.at("coupling")) == "ac");
  driven.answer.numbers["input"] = 1;
  CHECK_THAT(driven.run<bench::Counter>(count), Contains("input: 2 was asked, 1 is set"));
}

TEST_CASE("driver: one for another kind is refused", "[plugin]") {
  Driven driven;
  driven.is_for_another = true;
  driven.kind = "power supply";
  test::Simulated sim;
  CHECK_THROWS_WITH(driven.open(*sim.timeline), Contains("is for kind multimeter, meter is of kind power supply"));
}

namespace {

task<> set_up_output(bench::PowerSupply& supply) {
  co_await supply.set_up(1, {.voltage_v = 5, .current_limit_a = 0.1, .protection_v = 5.5}, 1s);
}
task<> supply_on(bench::PowerSupply& supply) { co_await supply.switch_on(1, 1s); }
task<> read_output(bench::PowerSupply& supply) {
  const bench::OutputReading reading = co_await supply.read(1, 1s);
  CHECK(reading.on);
  CHECK_FALSE(reading.tripped);
  CHECK(reading.voltage_v == 4.99);
}
task<> set_up_signal(bench::FunctionGenerator& generator) {
  co_await generator.set_up(
      1, {.shape = bench::Shape::square, .frequency_hz = 1000, .peak_to_peak_v = 1, .offset_v = 0.5}, 1s);
}
task<> generator_off(bench::FunctionGenerator& generator) { co_await generator.switch_off(1, 1s); }
task<> close_pad(bench::RelayBox& box) { co_await box.close_only({"pad", "generator"}, 1s); }
task<> open_all(bench::RelayBox& box) { co_await box.close_only({}, 1s); }

}  // namespace

TEST_CASE("driver: a power supply is set up, switched and read; what protects is never looser than asked", "[plugin]") {
  Driven driven;
  driven.kind = "power supply";
  driven.answer.numbers = {{"voltage", 5}, {"current limit", 0.1}, {"protection", 5.4}};
  CHECK(driven.run<bench::PowerSupply>(set_up_output) == "fine");
  CHECK(std::get<long long>(driven.asked[0].values.at("output")) == 1);
  driven.answer.numbers["current limit"] = 0.2;
  CHECK_THAT(driven.run<bench::PowerSupply>(set_up_output), Contains("current limit: 100 mA was asked, 200 mA is set"));
  driven.answer.numbers = {{"on", 0}};
  CHECK_THAT(driven.run<bench::PowerSupply>(supply_on), Contains("output 1: on was asked, the driver says it is not"));
  driven.answer.numbers = {{"on", 1}, {"tripped", 0}, {"voltage", 4.99}, {"current", 0.02}};
  CHECK(driven.run<bench::PowerSupply>(read_output) == "fine");
  driven.answer.numbers.erase("tripped");
  CHECK_THAT(driven.run<bench::PowerSupply>(read_output), Contains("the driver does not say 'tripped'"));
}

TEST_CASE("driver: a function generator says its shape back and holds its frequency", "[plugin]") {
  Driven driven;
  driven.kind = "function generator";
  driven.answer.text = "square";
  driven.answer.numbers = {{"frequency", 1000}, {"peak to peak", 1}, {"offset", 0.5}};
  CHECK(driven.run<bench::FunctionGenerator>(set_up_signal) == "fine");
  driven.answer.text = "sine";
  CHECK_THAT(driven.run<bench::FunctionGenerator>(set_up_signal), Contains("shape: square was asked, sine is set"));
  driven.answer.text = "square";
  driven.answer.numbers["frequency"] = 1000.1;
  CHECK_THAT(driven.run<bench::FunctionGenerator>(set_up_signal), Contains("frequency: 1 kHz was asked"));
  driven.answer.numbers = {{"on", 1}};
  CHECK_THAT(driven.run<bench::FunctionGenerator>(generator_off), Contains("output 1: off was asked"));
}

TEST_CASE("driver: a relay box says which ways are closed, in any order", "[plugin]") {
  Driven driven;
  driven.kind = "relay box";
  driven.answer.text = "generator , pad";
  CHECK(driven.run<bench::RelayBox>(close_pad) == "fine");
  CHECK(std::get<std::string>(driven.asked[0].values.at("ways")) == "pad, generator");
  driven.answer.text = "pad";
  CHECK_THAT(driven.run<bench::RelayBox>(close_pad), Contains("ways: pad, generator was asked, pad is set"));
  driven.answer.text = "";
  CHECK(driven.run<bench::RelayBox>(open_all) == "fine");
}
