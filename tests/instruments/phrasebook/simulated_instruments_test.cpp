// SPDX-License-Identifier: Apache-2.0
// The drivers against the simulated instruments, over the memory transport: what is read is what is there, and each way
// in which an instrument may misbehave ends in the error that names it. Making safe then works, where it can.
#include <catch2/catch.hpp>

#include <numeric>
#include <string>

#include "core/base/error.hpp"
#include "instruments/phrasebook/multimeter.hpp"
#include "instruments/phrasebook/oscilloscope.hpp"
#include "instruments/phrasebook/standard.hpp"
#include "instruments/transport/transports.hpp"
#include "sim/instrument/misbehaviour.hpp"
#include "sim/instrument/multimeter.hpp"
#include "sim/instrument/oscilloscope.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/test_signal.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

constexpr double truth_v = 1.55;

// An oscilloscope without errors of its own: what is left is its conversion.
sim::ScopeClass perfect_scope() {
  sim::ScopeClass c;
  c.gain_relative = c.offset_in_v = c.offset_of_range = c.clock_relative = c.noise_in_v = c.noise_of_range = 0;
  return c;
}

sim::MeterClass perfect_meter() { return {.of_reading = 0, .of_range = 0, .noise_of_range = 0, .line_hz = 50}; }

struct Bench {
  test::Simulated sim;
  std::shared_ptr<sim::SimulatedOscilloscope> scope_device =
      std::make_shared<sim::SimulatedOscilloscope>(*sim.timeline, perfect_scope(), base::Random(1));
  std::shared_ptr<sim::SimulatedMultimeter> meter_device =
      std::make_shared<sim::SimulatedMultimeter>(*sim.timeline, perfect_meter(), base::Random(2));
  std::shared_ptr<sim::MisbehavingDevice> spoilt =
      std::make_shared<sim::MisbehavingDevice>(*sim.timeline, scope_device);
  std::shared_ptr<transport::memory::MemoryServer> server = std::make_shared<transport::memory::MemoryServer>();
  phrasebook::Phrasebooks books = phrasebook::standard_phrasebooks();
  std::unique_ptr<bench::Oscilloscope> scope;
  std::unique_ptr<bench::Multimeter> meter;
  signal::Waveform waveform;

  Bench() {
    scope_device->connect(1, test::constant_source(truth_v), {});
    meter_device->connect(test::constant_source(truth_v));
    server->add("scope", spoilt);
    server->add("meter", meter_device);
    run(open(*this));
  }
  ~Bench() {
    scope.reset();  // before their loop
    meter.reset();
  }

  static task<> open(Bench& b) {
    transport::Transports transports;
    transport::add_memory(transports, b.server);
    auto to_scope = co_await transports.open_session("MEMORY::scope", *b.sim.timeline, 1s);
    b.scope = phrasebook::open_oscilloscope(*b.sim.timeline, phrasebook::find_phrasebook(b.books, "standard-digitiser"),
                                            std::move(to_scope));
    auto to_meter = co_await transports.open_session("MEMORY::meter", *b.sim.timeline, 1s);
    b.meter = phrasebook::open_multimeter(*b.sim.timeline, phrasebook::find_phrasebook(b.books, "standard-multimeter"),
                                          std::move(to_meter));
    co_await b.scope->greet(1s);
    co_await b.meter->greet(1s);
  }
  static task<> set_up(Bench& b) {
    const bench::ChannelSetting setting{10, bench::Coupling::dc, 0.6, 2.6, {}};
    co_await b.scope->set_up(1, setting, 2s);
  }
  static task<> capture(Bench& b) {
    const bench::Acquisition acquisition{1, 500e-6, 20e6, {}};
    b.waveform = co_await b.scope->capture(acquisition, 2s);
  }
  static task<> make_safe(Bench& b) { co_await b.scope->make_safe(2s); }

  // The code of the error, or nothing.
  std::optional<base::ErrorCode> run(task<> work) {
    try {
      sim.run(std::move(work));
    } catch (const base::Error& error) {
      last = error.what();
      return error.record().code;
    }
    return std::nullopt;
  }
  std::string last;
};

double mean_of(const signal::Waveform& waveform) {
  double sum = 0;
  for (std::size_t i = 0; i < waveform.size(); ++i) sum += waveform.view().volts(i);
  return sum / static_cast<double>(waveform.size());
}

}  // namespace

TEST_CASE("simulated oscilloscope: a capture has the points, the rate and the volts that are there", "[phrasebook]") {
  Bench b;
  REQUIRE_FALSE(b.run(Bench::set_up(b)));
  REQUIRE_FALSE(b.run(Bench::capture(b)));
  CHECK(b.waveform.size() == 10000);  // 500 us at 20 MSa/s
  CHECK(b.waveform.rate_hz == Approx(20e6).epsilon(1e-9));
  // Half a step of the 8-bit conversion of a span of 2 V.
  CHECK(mean_of(b.waveform) == Approx(truth_v).margin(0.5 * 2.0 / 255));
  CHECK(b.sim.timeline->now() >= 500us);
}

TEST_CASE("simulated oscilloscope: clipped samples lie beyond the screen that the waveform carries", "[phrasebook]") {
  Bench b;
  b.scope_device->connect(1, test::constant_source(3.5), {});
  REQUIRE_FALSE(b.run(Bench::set_up(b)));
  REQUIRE_FALSE(b.run(Bench::capture(b)));
  REQUIRE(b.waveform.screen);
  for (std::size_t i = 0; i < b.waveform.size(); ++i) CHECK(b.waveform.view().volts(i) >= b.waveform.screen->high_v);
}

TEST_CASE("simulated oscilloscope: a screen beyond its offset is refused by its error queue", "[phrasebook]") {
  Bench b;
  const auto work = [](Bench& on) -> task<> {
    const bench::ChannelSetting setting{1, bench::Coupling::dc, 29.5, 30.0, {}};
    co_await on.scope->set_up(1, setting, 2s);
  };
  CHECK(b.run(work(b)) == base::ErrorCode::instrument_error);
  CHECK_THAT(b.last, Catch::StartsWith("MEMORY0::scope::INSTR: the instrument reports -222 \"Data out of range"));
}

TEST_CASE("simulated oscilloscope: its ability is that of its class", "[phrasebook]") {
  Bench b;
  bench::OscilloscopeAbility ability;
  const auto work = [](Bench& on, bench::OscilloscopeAbility& into) -> task<> {
    into = co_await on.scope->ability(1s);
  };
  REQUIRE_FALSE(b.run(work(b, ability)));
  CHECK(ability.rate_hz_max == Approx(1e9));
  CHECK(ability.points_max == 10'000'000);
}

TEST_CASE("simulated oscilloscope: a trigger that never comes ends in time and the next capture works",
          "[phrasebook]") {
  Bench b;
  REQUIRE_FALSE(b.run(Bench::set_up(b)));
  const auto work = [](Bench& on) -> task<> {
    const bench::Acquisition acquisition{1, 500e-6, 20e6, bench::Trigger{2.3, bench::Edge::rising}};
    on.waveform = co_await on.scope->capture(acquisition, 1s);
  };
  CHECK(b.run(work(b)) == base::ErrorCode::wait_ran_out);
  CHECK_THAT(b.last, Catch::Contains("does the trigger level lie inside the signal?"));
  CHECK_FALSE(b.run(Bench::capture(b)));
  CHECK(mean_of(b.waveform) == Approx(truth_v).margin(0.5 * 2.0 / 255));
}

TEST_CASE("simulated oscilloscope: each misbehaviour in a capture ends in the error that names it", "[phrasebook]") {
  struct Row {
    sim::Misbehaviour kind;
    base::ErrorCode code;
  };
  const std::vector<Row> rows{
      {sim::Misbehaviour::silent, base::ErrorCode::time_out},
      {sim::Misbehaviour::late, base::ErrorCode::time_out},
      {sim::Misbehaviour::garbage, base::ErrorCode::bad_answer},
      {sim::Misbehaviour::close_in_answer, base::ErrorCode::connection_lost},
      {sim::Misbehaviour::not_a_number, base::ErrorCode::bad_answer},
      {sim::Misbehaviour::block_too_short, base::ErrorCode::bad_answer},
      {sim::Misbehaviour::block_too_long, base::ErrorCode::bad_answer},
      {sim::Misbehaviour::error_in_queue, base::ErrorCode::instrument_error},
      {sim::Misbehaviour::stops_within_answer, base::ErrorCode::time_out},
  };
  for (const Row& row : rows) {
    Bench b;
    REQUIRE_FALSE(b.run(Bench::set_up(b)));
    REQUIRE_FALSE(b.run(Bench::capture(b)));
    sim::Fault fault;
    fault.kind = row.kind;
    // The second query of a capture is the one for the samples. An error that appears with the first is seen there.
    fault.from_query = row.kind == sim::Misbehaviour::error_in_queue ? 1 : 2;
    fault.queries = 1;
    b.spoilt->add(fault);
    INFO(sim::name_of(row.kind));
    const auto code = b.run(Bench::capture(b));
    INFO(b.last);
    CHECK(code == row.code);
    CHECK_THAT(b.last, Catch::StartsWith("MEMORY0::scope::INSTR: "));
    b.spoilt->behave();
    if (row.code == base::ErrorCode::connection_lost) continue;  // nobody is there any more
    CHECK_FALSE(b.run(Bench::make_safe(b)));
    CHECK_FALSE(b.run(Bench::capture(b)));
    CHECK(mean_of(b.waveform) == Approx(truth_v).margin(0.5 * 2.0 / 255));
  }
}

TEST_CASE("simulated oscilloscope: a factor that is not taken is caught before anything is measured", "[phrasebook]") {
  Bench b;
  sim::Fault fault;
  fault.kind = sim::Misbehaviour::setting_not_taken;
  fault.header = "INP1:ATT";
  b.spoilt->add(fault);
  CHECK(b.run(Bench::set_up(b)) == base::ErrorCode::setting_not_taken);
  CHECK_THAT(b.last, Catch::StartsWith("MEMORY0::scope::INSTR: probe factor: asked x10, the instrument says x1\n"));
  CHECK(b.run(Bench::capture(b)) == base::ErrorCode::bad_input);  // not set up
}

TEST_CASE("simulated multimeter: reads the volts that are there, and says overload", "[phrasebook]") {
  Bench b;
  double value_v = 0;
  const auto work = [](Bench& on, double& into, double range_v) -> task<> {
    const bench::DcSetting setting{range_v, 0.2};
    co_await on.meter->set_up_dc(setting, 2s);
    into = co_await on.meter->read_dc(2s);
  };
  REQUIRE_FALSE(b.run(work(b, value_v, 10)));
  CHECK(value_v == Approx(truth_v).margin(1e-5));  // its resolution
  CHECK(b.run(work(b, value_v, 1)) == base::ErrorCode::bad_answer);
  CHECK_THAT(b.last, Catch::StartsWith("MEMORY0::meter::INSTR: overload: more than the range of 1 V"));
}
