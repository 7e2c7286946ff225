// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include "sim/trouble/trouble.hpp"
#include "tests/support/small_bench.hpp"

using namespace eyelevel;

namespace {

sim::UnitMake with(const std::string& name) {
  auto make = sim::draw_unit(1, {}, test::small_bench());
  base::Random random(1, name);
  sim::ready_troubles().find(name)->call.apply(make, random);
  return make;
}

}  // namespace

TEST_CASE("trouble: of the house, the store fills after the run has begun and the clock jumps once", "[sim]") {
  CHECK(with("store full").surroundings.store_full_from >= 2);
  const auto jump = with("clock jump").surroundings;
  CHECK(jump.clock_jumps_at_s >= 1);
  CHECK(std::abs(jump.clock_jumps_by_s) >= 600);
}
