// SPDX-License-Identifier: Apache-2.0
// What disturbs an eye is left out of its levels and told: samples that are no numbers, black spots, lost focus,
// clipping. Eyes rendered by tests/support/eye_renderer.hpp, truth in closed form.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>

#include "core/base/random.hpp"
#include "core/disc/analysis.hpp"
#include "tests/core/disc/warnings.hpp"
#include "tests/support/eye_renderer.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;
using support::EyeSettings;

TEST_CASE("analysis: samples that are no numbers are replaced, counted and told", "[disc]") {
  support::Eye eye = support::render({.duration_s = 0.002});
  for (std::size_t i = 1000; i < eye.volts.size(); i += 5000) eye.volts[i] = std::numeric_limits<float>::quiet_NaN();
  const Analysis a = analyse(eye.view());
  REQUIRE(a.has_eye);
  CHECK(*a.level.i11_v == Approx(eye.truth.i11_v).epsilon(0.002));
  CHECK(warns_of(a, "without a number"));
  CHECK(a.disturbed);
}

TEST_CASE("analysis: black spots are left out of the levels and told, the rest is read on", "[disc]") {
  for (const double spot_s : {20e-6, 100e-6, 231e-6, 1e-3}) {  // 231 us: 0.3 mm at 1.3 m/s, ECMA-130 12.6.2
    EyeSettings settings;
    settings.duration_s = 0.03;
    const support::EyeTruth clean = support::render(settings).truth;
    settings.light = [&](double t) {
      double light = 1;
      for (const double at : {0.006, 0.0145, 0.026})
        light *= 1 - 0.5 * std::erfc((std::abs(t - at) - spot_s / 2) / 5e-6);
      return light;
    };
    const support::Eye eye = support::render(settings);
    const Analysis a = analyse(eye.on_screen(-0.1, 2.3).view(), {.dark_v = 0.0});
    INFO(spot_s << " s");
    REQUIRE(a.has_eye);
    CHECK(a.disturbed);
    CHECK(*a.level.i11_v == Approx(clean.i11_v).epsilon(0.001));
    CHECK(*a.level.mean_v == Approx(eye.truth.mean_v).margin(0.003));
    CHECK(a.frames <= clean.frames);
    CHECK(a.frames >= clean.frames - 9);
    CHECK(a.c1->e31 > 0);
    CHECK(static_cast<double>(a.c1->e31) < 3 * (spot_s * 7350 + 4));  // words touched by each spot
    for (const QBlock& q : a.subcode) CHECK((q.crc || !q.absolute));
  }
}

TEST_CASE("analysis: the clock comes back on the right bit after any spot", "[disc]") {
  // It once came back with lands a bit too long and pits a bit too short, and lost every frame after the spot.
  for (std::uint64_t seed = 1; seed <= 12; ++seed) {
    base::Random random(seed, "spot");
    EyeSettings settings;
    settings.seed = seed;
    settings.rate_hz = random.uniform(9e6, 25e6);
    settings.duration_s = 0.012;
    settings.edge_jitter_t = 0.03;
    const double at_s = random.uniform(0.002, 0.004), length_s = random.uniform(50e-6, 400e-6);
    const double border_s = random.uniform(3e-6, 40e-6);
    settings.light = [&](double t) {
      return 1 - 0.45 * std::erfc((std::abs(t - at_s) - length_s / 2) / border_s);  // a tenth of the light is left
    };
    const support::Eye eye = support::render(settings);
    const Analysis a = analyse(eye.on_screen(-0.1, 2.3).view(), {.dark_v = 0.0});
    INFO("seed " << seed);
    REQUIRE(a.has_eye);
    CHECK(a.frames >= eye.truth.frames - 1);
    CHECK(a.frames <= eye.truth.frames);
    CHECK(static_cast<double>(a.c1->e11 + a.c1->e21 + a.c1->e31) <= 4 + (length_s + 4 * border_s) * 7350);
    CHECK(*a.level.i3_v == Approx(0.54 * 1.3).margin(0.02));
    CHECK(*a.channel_rate_hz == Approx(eye.truth.channel_rate_hz).epsilon(100e-6));
  }
}

TEST_CASE("analysis: lost focus inside the record is left out and told", "[disc]") {
  for (const double at_s : {0.0, 0.015, 0.03}) {
    EyeSettings settings;
    settings.duration_s = 0.03;
    const support::EyeTruth clean = support::render(settings).truth;
    constexpr double lost_s = 0.006;
    settings.contrast = [&](double t) { return 1 - 0.97 * 0.5 * std::erfc((std::abs(t - at_s) - lost_s / 2) / 3e-4); };
    const support::Eye eye = support::render(settings);
    const Analysis a = analyse(eye.on_screen(-0.1, 2.3).view(), {.dark_v = 0.0});
    INFO("at " << at_s << " s");
    REQUIRE(a.has_eye);
    CHECK(a.disturbed);
    CHECK(warns_of(a, "weak or lost"));
    CHECK(*a.level.i11_v == Approx(clean.i11_v).epsilon(0.002));
    const double inside_s = at_s > 0 && at_s < 0.03 ? lost_s : lost_s / 2;
    CHECK(static_cast<double>(a.frames) == Approx(clean.frames - inside_s * 7350).margin(8));
    CHECK(a.locked_share == Approx(1 - inside_s / 0.03).margin(0.05));
    CHECK(a.c1->e11 + a.c1->e21 <= 3);
    CHECK(a.c1->e31 <= 6);
  }
}

TEST_CASE("analysis: a wrong sample rate makes no weak places of runs that are short by chance", "[disc]") {
  support::Eye eye = support::render({.duration_s = 0.03});
  signal::Waveform wave = eye.on_screen(-0.1, 2.3);
  wave.rate_hz /= 20;
  const Analysis a = analyse(wave.view());
  REQUIRE(a.has_eye);
  CHECK(warns_of(a, "none of the usual speeds"));
  CHECK_FALSE(warns_of(a, "weak"));
  CHECK(a.fault_count == 0);
  CHECK_FALSE(a.disturbed);
}

TEST_CASE("analysis: a clipped top is reported, not guessed", "[disc]") {
  EyeSettings settings;
  settings.duration_s = 0.005;
  const support::Eye eye = support::render(settings);
  for (const double high_v : {1.5, 1.8, 1.98}) {
    const Analysis a = analyse(eye.on_screen(-0.1, high_v).view(), {.dark_v = 0.0});
    INFO(high_v << " V");
    REQUIRE(a.has_eye);
    CHECK_FALSE(a.level.peak_to_peak_v);
    CHECK_FALSE(a.i11_over_top);
    CHECK(a.clipped_share > 0.01);
    CHECK(a.disturbed);
    CHECK(warns_of(a, "clipped"));
    CHECK(a.frames == eye.truth.frames);  // the middle of the eye is still there
  }
  // Volts as floats: only the screen tells where the converter ends.
  support::Eye floats = eye;
  for (float& v : floats.volts) v = std::min(v, 1.8F);
  signal::WaveformView view = floats.view();
  view.screen = signal::Screen{-0.6, 1.8};
  CHECK_FALSE(analyse(view).level.peak_to_peak_v);
  // Without a screen it is a limit on the way: the level is what was there, and a warning says that it is flat.
  view.screen.reset();
  const Analysis flat = analyse(view);
  CHECK(flat.level.top_v == Approx(1.8).margin(0.005));
  CHECK(warns_of(flat, "flat"));
}
