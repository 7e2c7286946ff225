// SPDX-License-Identifier: Apache-2.0
#include "sim/player/parameters.hpp"

#include <catch2/catch.hpp>

#include "sim/player/trimmer.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;

TEST_CASE("parameters: the same seed draws the same unit, another seed another", "[player]") {
  const auto first = draw_player(11, {}), again = draw_player(11, {}), other = draw_player(12, {});
  CHECK(first.laser.threshold_25_ma == again.laser.threshold_25_ma);
  CHECK(first.trimmer_start_deg == again.trimmer_start_deg);
  CHECK(first.source_ohm == again.source_ohm);
  CHECK(first.laser.threshold_25_ma != other.laser.threshold_25_ma);
}

TEST_CASE("parameters: every drawn unit starts within the asked level and can be cured by the trimmer", "[player]") {
  for (const bool loop : {true, false}) {
    ModelTraits model;
    model.has_power_loop = loop;
    for (std::uint64_t seed = 0; seed < 500; ++seed) {
      const auto unit = draw_player(seed, model);
      const double half_warm_c = unit.ambient_c + unit.warm_up_k / 2;
      const auto light = [&](double angle_deg) {
        const Trimmer trimmer(unit.trimmer, angle_deg, base::Random(0));
        return operating_point(unit.laser, unit.drive, trimmer.setting(), half_warm_c).light_mw /
               unit.drive.right_light_mw;
      };
      const double start = light(unit.trimmer_start_deg);
      INFO("seed " << seed << ", loop " << loop);
      CHECK(start > LevelRange{}.lowest - 0.001);
      CHECK(start < LevelRange{}.highest + 0.001);
      const double right_deg = trimmer_deg_for_light(unit, 1);
      CHECK(light(right_deg) == Approx(1).epsilon(1e-9));
      CHECK(right_deg > unit.trimmer.dead_end_deg);
      CHECK(right_deg < unit.trimmer.travel_deg - unit.trimmer.dead_end_deg);
    }
  }
}

TEST_CASE("parameters: steepness at the right setting lies where the model says", "[player]") {
  ModelTraits model;
  for (std::uint64_t seed = 0; seed < 300; ++seed) {
    const auto unit = draw_player(seed, model);
    const Trimmer trimmer(unit.trimmer, unit.trimmer.right_deg, base::Random(0));
    CHECK(trimmer.steepness_per_deg() >= model.steepness_min_per_deg * 0.999);
    CHECK(trimmer.steepness_per_deg() <= model.steepness_max_per_deg * 1.001);
  }
}

TEST_CASE("parameters: a drawn driver has room above the healthy laser's current", "[player]") {
  for (std::uint64_t seed = 0; seed < 300; ++seed) {
    const auto unit = draw_player(seed, {});
    const auto hottest = operating_point(unit.laser, unit.drive, 1.22, unit.ambient_c + unit.warm_up_k);
    INFO("seed " << seed);
    CHECK_FALSE(hottest.at_limit);
  }
}
