// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include "tests/sim/trouble/with_trouble.hpp"

using namespace eyelevel;
using test::with;

TEST_CASE("trouble: of the house, the store fills after the run has begun and the clock jumps once", "[sim]") {
  CHECK(with("store full").surroundings.store_full_from >= 2);
  const auto jump = with("clock jump").surroundings;
  CHECK(jump.clock_jumps_at_s >= 1);
  CHECK(std::abs(jump.clock_jumps_by_s) >= 600);
}
