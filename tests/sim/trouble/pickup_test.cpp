// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include "sim/trouble/trouble.hpp"
#include "tests/support/small_bench.hpp"

using namespace eyelevel;

namespace {

// The light of the unit, relative to the right setting, once the trouble was applied.
double light_with(const std::string& name, std::uint64_t seed) {
  auto make = sim::draw_unit(seed, {}, test::small_bench());
  base::Random random(seed, name);
  sim::ready_troubles().find(name)->call.apply(make, random);
  sim::Player player(make.player);
  player.switch_on(0);
  return player.laser_light_at(200) * make.player.film_transmission * make.player.film_transmission;
}

}  // namespace

TEST_CASE("trouble: too high is 20 to 30 % too much light, too low 20 to 30 % too little, dirt takes some", "[sim]") {
  // Half warm, the drawn angle gives the share; the wiper's noise and what is left of warming up move it by some per
  // cent.
  constexpr double about = 0.06;
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    CHECK(light_with("level too high", seed) > 1.20 - about);
    CHECK(light_with("level too high", seed) < 1.30 + about);
    CHECK(light_with("level too low", seed) > 0.70 - about);
    CHECK(light_with("level too low", seed) < 0.80 + about);
    CHECK(light_with("lens dirty", seed) < 1.0);
  }
}

TEST_CASE("trouble: a dead laser, an open wiper and a laser at its limit give no light, none and too little", "[sim]") {
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    CHECK(light_with("laser dead", seed) < 1e-4);
    CHECK(light_with("wiper open", seed) < 1e-9);
    CHECK(light_with("laser at its limit", seed) < 0.85);
    CHECK(light_with("laser at its limit", seed) > 0.5);
    CHECK(light_with("laser worn out", seed) < 0.75);
    CHECK(light_with("laser worn out", seed) > 0.4);
  }
}
