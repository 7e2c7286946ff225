// SPDX-License-Identifier: Apache-2.0
#include "sim/unit/unit_make.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "tests/support/small_bench.hpp"

using namespace eyelevel;

TEST_CASE("unit: the same seed draws the same unit, another seed another", "[sim]") {
  const auto bench = test::small_bench();
  const auto a = sim::draw_unit(7, {}, bench), b = sim::draw_unit(7, {}, bench), c = sim::draw_unit(8, {}, bench);
  CHECK(a.player.trimmer_start_deg == b.player.trimmer_start_deg);
  CHECK(a.instruments[0].probes.at(1).divider_error == b.instruments[0].probes.at(1).divider_error);
  CHECK(a.player.trimmer_start_deg != c.player.trimmer_start_deg);
}

TEST_CASE("unit: errors of the probe lie within the half-widths of the bench file and fill them", "[sim]") {
  const auto bench = test::small_bench();
  double least = 0, most = 0;
  constexpr int units = 200;
  for (int seed = 0; seed < units; ++seed) {
    const auto unit = sim::draw_unit(static_cast<std::uint64_t>(seed), {}, bench);
    const auto& probe = unit.instruments[0].probes.at(1);
    least = std::min(least, probe.divider_error);
    most = std::max(most, probe.divider_error);
    CHECK(std::abs(probe.compensation - 1) <= 0.005);
  }
  // Rectangular over ± 1 %: the chance that none of 200 lies beyond 0.9 % on one side is 0.95^200 = 4e-5.
  CHECK(least >= -0.01);
  CHECK(most <= 0.01);
  CHECK(least < -0.009);
  CHECK(most > 0.009);
}

TEST_CASE("unit: an oscilloscope is as quiet as its bench file says, and no quieter than its family where it may be",
          "[sim]") {
  auto bench = test::small_bench();
  const auto noise_of = [&](double stated_v) {
    bench.instruments.at(0).noise_v = stated_v;
    const auto unit = sim::draw_unit(1, {}, bench);
    const auto& scope = unit.instruments.at(0).scope;
    return 10 * std::hypot(scope.noise_in_v, scope.noise_of_range * 0.14);  // at the tip of x10, of a screen of 1.4 V
  };
  const double usual_v = noise_of(0);
  CHECK(noise_of(0.1) == Approx(usual_v));
  CHECK(noise_of(usual_v) == Approx(0.7 * usual_v));
  CHECK(noise_of(0.5e-3) == Approx(0.35e-3));
}

TEST_CASE("unit: the three discs of the box hold the same contents and are of three kinds", "[sim]") {
  const auto unit = sim::draw_unit(1, {}, test::small_bench());
  REQUIRE(unit.box.size() == 3);
  CHECK(unit.box[0]->contents == unit.box[1]->contents);
  CHECK(unit.box[0]->contents == unit.box[2]->contents);
  CHECK(unit.box[0]->kind == sim::DiscKind::pressed);
  CHECK(unit.box[1]->kind == sim::DiscKind::recordable);
  CHECK(unit.box[2]->kind == sim::DiscKind::rewritable);
}

TEST_CASE("unit: instruments stand under their roles, found by kind", "[sim]") {
  auto unit = sim::draw_unit(1, {}, test::small_bench());
  REQUIRE(unit.instrument_of_kind("oscilloscope") != nullptr);
  CHECK(unit.instrument_of_kind("oscilloscope")->role == "scope");
  CHECK(unit.instrument_of_kind("multimeter")->role == "meter");
  CHECK(unit.instrument_of_kind("counter") == nullptr);
}
