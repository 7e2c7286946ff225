// SPDX-License-Identifier: Apache-2.0
#include "sim/unit/simulated_bench.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/support/number.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/small_bench.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

std::string asked(test::Simulated& sim, transport::Device& device, std::string message) {
  transport::Reply reply;
  sim.run(device.execute(message, reply));
  return reply.bytes;
}

}  // namespace

TEST_CASE("simulated bench: begins with the player on and no disc, so that the meter shows the dark pad", "[sim]") {
  test::Simulated sim;
  const auto make = sim::draw_unit(3, {}, test::small_bench());
  sim::SimulatedBench bench(*sim.timeline, make);
  sim.run(sim.timeline->sleep(20s));
  const double shown = test::point_number(asked(sim, *bench.devices().at("meter"), "MEAS:VOLT:DC?"));
  const double now_s = base::to_seconds(sim.timeline->now());
  const double truth = bench.player().true_dark_v(now_s - 0.2, now_s);
  // The meter's class on its 10 V range and its load on about 1 kOhm: well within 3 mV.
  CHECK(shown == Approx(truth).margin(0.003));
}

TEST_CASE("simulated bench: an instrument that is switched off is not there", "[sim]") {
  test::Simulated sim;
  auto make = sim::draw_unit(3, {}, test::small_bench());
  make.instrument_of_kind("oscilloscope")->absent = true;
  sim::SimulatedBench bench(*sim.timeline, make);
  CHECK(bench.devices().count("scope") == 0);
  CHECK(bench.devices().count("meter") == 1);
}

TEST_CASE("simulated bench: every kind that a bench file may list is served, and says what it is", "[sim]") {
  test::Simulated sim;
  const auto file = test::every_kind_bench();
  CHECK(file.instruments.size() == bench::kinds().size());
  const sim::SimulatedBench bench(*sim.timeline, sim::draw_unit(3, {}, file));
  for (const auto& entry : file.instruments) {
    INFO(entry.kind);
    REQUIRE(bench.devices().count(entry.role) == 1);
    CHECK(asked(sim, *bench.devices().at(entry.role), "*IDN?") == "Eyelevel,Simulated " + entry.kind + ",0,1.0");
  }
}

TEST_CASE("simulated bench: a kind that the simulator does not have is refused by its name", "[sim]") {
  test::Simulated sim;
  auto make = sim::draw_unit(3, {}, test::small_bench());
  make.instruments[0].kind = "spectrum analyser";
  CHECK_THROWS_WITH(sim::SimulatedBench(*sim.timeline, make), Catch::Contains("spectrum analyser"));
}
