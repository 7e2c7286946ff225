// SPDX-License-Identifier: Apache-2.0
// One suite over every built-in phrasebook for power supplies: what core/bench/kind/power_supply.hpp promises, against
// the simulated one. The truth is the simulator's; tolerances are its steps of 1 mV and 1 mA and the class stated here.
#include "core/bench/kind/power_supply.hpp"

#include <cmath>

#include "instruments/phrasebook/power_supply.hpp"
#include "sim/instrument/power_supply.hpp"
#include "tests/contract/kind_bench.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

std::shared_ptr<sim::SimulatedPowerSupply> make(base::Timeline& timeline) {
  sim::SupplyClass perfect;
  perfect.of_voltage = perfect.of_current = 0;
  return std::make_shared<sim::SimulatedPowerSupply>(timeline, perfect, base::Random(1));
}

struct Bench {
  explicit Bench(const phrasebook::Phrasebook& book)
      : kind(make, device, [&](base::Timeline& timeline, std::unique_ptr<transport::Session> session) {
          return phrasebook::open_power_supply(timeline, book, std::move(session), {{1, 5.5, 0.5, {}}, {2, 12, 1, {}}});
        }) {}

  static task<> do_set_up(Bench& b, int output, bench::OutputSetting setting) {
    b.taken = co_await b.kind.instrument->set_up(output, setting, 2s);
  }
  static task<> do_switch(Bench& b, int output, bool on) {
    if (on) {
      co_await b.kind.instrument->switch_on(output, 2s);
    } else {
      co_await b.kind.instrument->switch_off(output, 2s);
    }
  }
  static task<> do_read(Bench& b, int output) { b.reading = co_await b.kind.instrument->read(output, 2s); }

  auto set_up(int output, const bench::OutputSetting& setting) { return kind.run(do_set_up(*this, output, setting)); }
  auto switch_on(int output) { return kind.run(do_switch(*this, output, true)); }
  auto switch_off(int output) { return kind.run(do_switch(*this, output, false)); }
  bench::OutputReading read(int output) {
    INFO(kind.last);
    CHECK_FALSE(kind.run(do_read(*this, output)));
    return reading;
  }

  std::shared_ptr<sim::SimulatedPowerSupply> device;
  test::KindBench<bench::PowerSupply> kind;
  std::vector<bench::SettingTaken> taken;
  bench::OutputReading reading;
};

const bench::OutputSetting five_volts{5, 0.2, 5.5};

}  // namespace

TEST_CASE("power supply contract: a set-up is proved and leaves the output off", "[contract]") {
  for (const auto& book : test::phrasebooks_of("power supply")) {
    INFO(book.name);
    Bench b(book);
    CHECK(b.kind.identity == "Eyelevel,Simulated power supply,0,1.0");
    REQUIRE_FALSE(b.set_up(1, five_volts));
    REQUIRE(b.taken.size() == 4);
    CHECK(b.taken[0].read_back == "5 V");
    CHECK(b.taken[1].read_back == "200 mA");
    CHECK(b.taken[2].read_back == "5.5 V");
    CHECK(b.taken[3].read_back == "off");
    CHECK_FALSE(b.device->is_on(1));
    CHECK_FALSE(b.read(1).on);
    // Set up again while it is on: it is off afterwards.
    REQUIRE_FALSE(b.switch_on(1));
    REQUIRE_FALSE(b.set_up(1, {3, 0.1, 3.3}));
    CHECK_FALSE(b.device->is_on(1));
  }
}

TEST_CASE("power supply contract: an output that is on has settled, and reads what is there", "[contract]") {
  for (const auto& book : test::phrasebooks_of("power supply")) {
    INFO(book.name);
    Bench b(book);
    b.device->connect(1, 100);
    REQUIRE_FALSE(b.set_up(1, five_volts));
    REQUIRE_FALSE(b.switch_on(1));
    CHECK(b.device->true_voltage_v(1) == Approx(5).margin(0.001));  // ten time constants: 5 V x e^-10
    const bench::OutputReading reading = b.read(1);
    CHECK(reading.on);
    CHECK_FALSE(reading.tripped);
    CHECK(reading.voltage_v == Approx(5).margin(0.001));
    CHECK(reading.current_a == Approx(0.05).margin(0.001));
    CHECK_FALSE(b.device->is_on(2));
    REQUIRE_FALSE(b.switch_off(1));
    CHECK_FALSE(b.device->is_on(1));
  }
}

TEST_CASE("power supply contract: the current limit holds the voltage down, the other output is not touched",
          "[contract]") {
  for (const auto& book : test::phrasebooks_of("power supply")) {
    INFO(book.name);
    Bench b(book);
    b.device->connect(1, 10);
    b.device->connect(2, 10);
    REQUIRE_FALSE(b.set_up(1, five_volts));
    REQUIRE_FALSE(b.set_up(2, {9, 1, 10}));
    REQUIRE_FALSE(b.switch_on(1));
    REQUIRE_FALSE(b.switch_on(2));
    CHECK(b.read(1).voltage_v == Approx(2).margin(0.001));  // 0.2 A through 10 ohm
    CHECK(b.read(2).voltage_v == Approx(9).margin(0.001));
    CHECK(b.read(2).current_a == Approx(0.9).margin(0.001));
  }
}

TEST_CASE("power supply contract: what the bench file does not allow is refused and nothing is sent", "[contract]") {
  struct Row {
    int output;
    bench::OutputSetting setting;
    const char* says;
  };
  const std::vector<Row> rows{
      {1, {6, 0.2, 6.5}, "voltage of output 1: 6 V was asked, the bench file allows 0 V to 5.5 V"},
      {1, {5, 0.2, 7}, "protection of output 1: 7 V was asked, the bench file allows 0 V to 5.5 V"},
      {1, {5, 0.6, 5.5}, "current limit of output 1: 600 mA was asked, the bench file allows 0 A to 500 mA"},
      {1, {-5, 0.2, 5.5}, "voltage of output 1: -5 V was asked, the bench file allows 0 V to 5.5 V"},
      {1, {std::nan(""), 0.2, 5.5}, "voltage of output 1: not a number was asked"},
      {1, {5, 0.2, 4}, "protection of output 1 at 4 V: that is below its voltage of 5 V"},
      {3, {5, 0.2, 5.5}, "the bench file says nothing about output 3"},
  };
  for (const auto& book : test::phrasebooks_of("power supply")) {
    INFO(book.name);
    Bench b(book);
    b.kind.spoil(sim::Misbehaviour::silent);  // would be seen if anything were asked
    for (const Row& row : rows) {
      CHECK(b.set_up(row.output, row.setting) == base::ErrorCode::bad_input);
      CHECK_THAT(b.kind.last, Catch::Contains(row.says));
    }
    CHECK(b.switch_on(1) == base::ErrorCode::bad_input);  // not set up
    CHECK(b.switch_on(3) == base::ErrorCode::bad_input);
  }
}

TEST_CASE("power supply contract: a setting or a switch that is not taken is told", "[contract]") {
  for (const auto& book : test::phrasebooks_of("power supply")) {
    INFO(book.name);
    const auto header = [&](const std::string& phrase) { return phrasebook::spoken(phrase, 1); };
    const auto& phrases = std::get<phrasebook::PowerSupplyPhrases>(book.phrases);
    for (const auto* phrase : {&phrases.voltage, &phrases.current_limit, &phrases.protection}) {
      Bench b(book);
      b.kind.ignore(header(*phrase));
      INFO(*phrase);
      CHECK(b.set_up(1, five_volts) == base::ErrorCode::setting_not_taken);
      CHECK(b.switch_on(1) == base::ErrorCode::bad_input);  // it counts as not set up
    }
    Bench b(book);
    REQUIRE_FALSE(b.set_up(1, five_volts));
    REQUIRE_FALSE(b.switch_on(1));
    b.kind.ignore(header(phrases.output));
    CHECK(b.switch_off(1) == base::ErrorCode::setting_not_taken);
    CHECK_THAT(b.kind.last, Catch::Contains("output 1: asked off, the instrument says on"));
    CHECK(b.kind.make_safe() == base::ErrorCode::setting_not_taken);
    CHECK_THAT(b.kind.last, Catch::Contains("switch the output off by hand"));
  }
}

TEST_CASE("power supply contract: a protection that trips is an error, and a set-up makes it ready again",
          "[contract]") {
  for (const auto& book : test::phrasebooks_of("power supply")) {
    INFO(book.name);
    Bench b(book);
    REQUIRE_FALSE(b.set_up(1, five_volts));
    b.device->lift(1, 6);  // from outside, above 5.5 V
    CHECK(b.switch_on(1) == base::ErrorCode::instrument_error);
    CHECK_THAT(b.kind.last, Catch::Contains("the protection of output 1 has switched it off"));
    CHECK(b.read(1).tripped);
    CHECK_FALSE(b.read(1).on);
    b.device->lift(1, 0);
    b.kind.sim.run(b.kind.sim.timeline->sleep(100ms));  // until the terminals are down
    REQUIRE_FALSE(b.set_up(1, five_volts));
    CHECK_FALSE(b.switch_on(1));
  }
}

TEST_CASE("power supply contract: making safe switches every output off, whatever happened before", "[contract]") {
  for (const auto& book : test::phrasebooks_of("power supply")) {
    for (const test::Trouble& trouble : test::troubles_of_a_query()) {
      INFO(book.name << ", " << sim::name_of(trouble.kind));
      Bench b(book);
      REQUIRE_FALSE(b.set_up(1, five_volts));
      REQUIRE_FALSE(b.set_up(2, five_volts));
      REQUIRE_FALSE(b.switch_on(1));
      REQUIRE_FALSE(b.switch_on(2));
      b.kind.spoil(trouble.kind);
      if (trouble.seen_by_the_next) CHECK_FALSE(b.kind.run(Bench::do_read(b, 1)));
      CHECK(b.kind.run(Bench::do_read(b, 1)) == trouble.code);
      CHECK_THAT(b.kind.last, Catch::StartsWith("MEMORY0::it::INSTR: "));
      b.kind.spoilt->behave();
      if (trouble.code == base::ErrorCode::connection_lost) continue;  // nobody is there any more
      CHECK_FALSE(b.kind.make_safe());
      CHECK_FALSE(b.device->is_on(1));
      CHECK_FALSE(b.device->is_on(2));
    }
  }
}
