// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include "sim/trouble/trouble.hpp"
#include "tests/support/small_bench.hpp"

using namespace eyelevel;

TEST_CASE("trouble: a probe switched to x1 divides by one and loads the pad with a megohm", "[sim]") {
  auto make = sim::draw_unit(1, {}, test::small_bench());
  base::Random random(1, "any");
  sim::ready_troubles().find("probe switched to x1")->call.apply(make, random);
  const auto& probe = make.instrument_of_kind("oscilloscope")->probes.at(1);
  CHECK(probe.factor == 1);
  CHECK(probe.resistance_ohm == 1e6);
}

TEST_CASE("trouble: a probe that slipped off leaves no channel wired", "[sim]") {
  auto make = sim::draw_unit(1, {}, test::small_bench());
  base::Random random(1, "any");
  sim::ready_troubles().find("probe off")->call.apply(make, random);
  CHECK(make.instrument_of_kind("oscilloscope")->probes.empty());
}

TEST_CASE("trouble: a probe in the next input leaves the channel of the bench file open", "[sim]") {
  auto make = sim::draw_unit(1, {}, test::small_bench());
  base::Random random(1, "any");
  sim::ready_troubles().find("probe in the wrong input")->call.apply(make, random);
  const auto& probes = make.instrument_of_kind("oscilloscope")->probes;
  CHECK(probes.count(1) == 0);
  CHECK(probes.count(2) == 1);
}
