// SPDX-License-Identifier: Apache-2.0
// Turns, place and faults through the whole analysis. Truth: the renderer's light and contrast, and the spiral of
// ECMA-130 11.2 to 11.4.
#include <catch2/catch.hpp>

#include <cmath>

#include "core/disc/analysis.hpp"
#include "tests/support/eye_renderer.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;

TEST_CASE("analysis: from turns and absolute time follow radius and speed of the track", "[disc]") {
  support::EyeSettings settings;
  settings.rate_hz = 8e6;
  settings.duration_s = 0.5;
  // The renderer's Q says 20000 sections, 266.7 s. At 1.3 m/s that is 346.7 m of track: r^2 = 25 mm^2 + p l / pi.
  const double pi = std::acos(-1.0), radius_m = std::sqrt(25e-3 * 25e-3 + 1.6e-6 * 1.3 * 20000 / 75 / pi);
  const double turns_hz = 1.3 / (2 * pi * radius_m);
  settings.contrast = [&](double t) { return 1 + 0.05 * std::sin(2 * pi * turns_hz * t); };
  const Analysis a = analyse(support::render(settings).on_screen(0.4, 2.4).view(), {.dark_v = 0.0});
  REQUIRE(a.envelope.once_around);
  CHECK(a.envelope.once_around->hz == Approx(turns_hz).epsilon(0.02));
  CHECK(a.envelope.once_around->height_percent == Approx(5).margin(0.5));
  REQUIRE(a.radius_m);
  CHECK(*a.radius_m == Approx(radius_m).epsilon(0.01));
  CHECK(*a.velocity_m_per_s == Approx(1.3).epsilon(0.03));
}

TEST_CASE("analysis: faults are listed with place and length", "[disc]") {
  support::EyeSettings settings;
  settings.duration_s = 0.03;
  settings.light = [](double t) { return std::abs(t - 0.012) < 150e-6 ? 0.05 : 1.0; };
  const Analysis a = analyse(support::render(settings).view());
  CHECK(a.fault_count == 1);
  REQUIRE(a.faults.size() == 1);
  // To whole blocks of 34 us, with one to either side.
  CHECK(a.faults[0].start_s == Approx(0.01185).margin(80e-6));
  CHECK(a.faults[0].length_s == Approx(300e-6).margin(150e-6));
}
