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

TEST_CASE("trouble: of the disc, every disc in the box has it, and a healthy box is left alone", "[sim]") {
  const auto healthy = sim::draw_unit(1, {}, test::small_bench());
  for (const auto& disc : with("disc upside down").box) CHECK(disc->light <= 0.08);
  for (const auto& disc : with("data disc").box)
    for (const auto& track : disc->contents->tracks) CHECK(track.is_data());
  for (const auto& disc : with("disc scratched").box) CHECK(disc->scratch_depth >= 0.3);
  CHECK(healthy.box.front()->scratch_depth == 0);
}
