// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include "tests/sim/trouble/with_trouble.hpp"

using namespace eyelevel;
using test::with;

TEST_CASE("trouble: of the disc, every disc in the box has it, and a healthy box is left alone", "[sim]") {
  const auto healthy = sim::draw_unit(1, {}, test::small_bench());
  for (const auto& disc : with("disc upside down").box) CHECK(disc->light <= 0.08);
  for (const auto& disc : with("data disc").box)
    for (const auto& track : disc->contents->tracks) CHECK(track.is_data());
  for (const auto& disc : with("disc scratched").box) CHECK(disc->scratch_depth >= 0.3);
  CHECK(healthy.box.front()->scratch_depth == 0);
}
