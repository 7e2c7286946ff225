// SPDX-License-Identifier: Apache-2.0
// Sweeps over the settings of eyes rendered by tests/support/eye_renderer.hpp, truth in closed form: polarity, sampling
// rate, speed, baseline, asymmetry, noise, length. What disturbs an eye: analyse_disturbed_test.cpp.
#include <catch2/catch.hpp>

#include <cmath>
#include <cstdint>
#include <vector>

#include "core/disc/analysis.hpp"
#include "tests/core/disc/warnings.hpp"
#include "tests/support/eye_renderer.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;
using support::EyeSettings;

TEST_CASE("analysis: which side is light follows from the dark level", "[disc]") {
  EyeSettings settings;
  settings.pit_longer_t = 0.3;  // asymmetric: its sign tells which side was taken for light
  settings.duration_s = 0.005;
  support::Eye eye = support::render(settings);
  AnalysisOptions options;
  options.dark_v = 0.0;
  const Analysis upright = analyse(eye.view(), options);
  CHECK(*upright.asymmetry == Approx(eye.truth.asymmetry).margin(0.001));
  CHECK(*upright.i11_over_top == Approx(eye.truth.i11_v / eye.truth.top_v).margin(0.002));

  for (float& v : eye.volts) v = 3.0F - v;  // an amplifier that inverts; dark lies above the signal
  options.dark_v = 3.0;
  const Analysis inverted = analyse(eye.view(), options);
  CHECK(*inverted.asymmetry == Approx(eye.truth.asymmetry).margin(0.001));
  CHECK(*inverted.beta == Approx(*upright.beta).margin(1e-4));
  CHECK(*inverted.level.top_v == Approx(3.0 - eye.truth.top_v).margin(0.002));
  CHECK(*inverted.level.top_v < *inverted.level.bottom_v);
  CHECK(*inverted.i11_over_top == Approx(*upright.i11_over_top).margin(1e-4));
  CHECK(inverted.frames == upright.frames);

  const Analysis unknown = analyse(eye.view());
  CHECK_FALSE(unknown.i11_over_top);
  CHECK(*unknown.asymmetry == Approx(-eye.truth.asymmetry).margin(0.001));
  CHECK(warns_of(unknown, "no dark level"));

  options.dark_v = 1.6;
  const Analysis inside = analyse(eye.view(), options);
  CHECK_FALSE(inside.i11_over_top);
  CHECK(warns_of(inside, "inside the signal"));

  options.dark_v = 3.0;
  options.a_c_coupled = true;
  CHECK_FALSE(analyse(eye.view(), options).i11_over_top);
}

TEST_CASE("analysis: a negative scale is volts all the same", "[disc]") {
  EyeSettings settings;
  settings.pit_longer_t = 0.3;
  settings.duration_s = 0.005;
  const support::Eye eye = support::render(settings);
  signal::Waveform wave = eye.on_screen(-0.1, 2.3);
  for (auto& code : std::get<std::vector<std::int8_t>>(wave.codes)) code = static_cast<std::int8_t>(-1 - code);
  wave.offset_v -= wave.scale_v;  // volts = -(code) x scale: the same volts from mirrored codes
  wave.scale_v = -wave.scale_v;
  const Analysis a = analyse(wave.view(), {.dark_v = 0.0});
  CHECK(*a.level.top_v == Approx(eye.truth.top_v).margin(0.002));
  CHECK(*a.level.bottom_v == Approx(eye.truth.bottom_v).margin(0.002));
  CHECK(*a.asymmetry == Approx(eye.truth.asymmetry).margin(0.001));
}

TEST_CASE("analysis: from 1.85 to 230 samples a channel bit the same eye gives the same numbers", "[disc]") {
  for (const double rate_hz : {8.0e6, 8.1e6, 9.7e6, 12.5e6, 33.3e6, 100e6, 1e9}) {
    EyeSettings settings;
    settings.rate_hz = rate_hz;
    settings.duration_s = rate_hz > 50e6 ? 0.001 : 0.005;
    settings.edge_jitter_t = 0.05;
    const support::Eye eye = support::render(settings);
    const Analysis a = analyse(eye.on_screen(-0.1, 2.3).view(), {.dark_v = 0.0});
    INFO(rate_hz << " Hz");
    REQUIRE(a.has_eye);
    CHECK(*a.level.i11_v == Approx(eye.truth.i11_v).epsilon(0.002));
    CHECK(*a.level.i3_v == Approx(eye.truth.i3_v).margin(0.003 * eye.truth.i11_v));
    CHECK(*a.channel_rate_hz == Approx(eye.truth.channel_rate_hz).epsilon(100e-6));
    CHECK(a.frames == eye.truth.frames);
    CHECK(a.c1->e11 + a.c1->e21 + a.c1->e31 == 0);
    // sqrt(2) of one edge is 16.4 ns; intersymbol part and noise add 4 to 9 ns in squares.
    CHECK(*a.jitter_all_ns > 16.0);
    CHECK(*a.jitter_all_ns < 19.5);
  }
}

TEST_CASE("analysis: any speed is found, also 5 % off and swinging by 1 % with the turns of the disc", "[disc]") {
  for (const double times : {0.95, 1.0, 1.05, 2.0, 4.0}) {
    EyeSettings settings;
    settings.rate_hz = 40e6;
    settings.channel_rate_hz *= times;
    settings.duration_s = 0.015;
    settings.rate_change = [](double t) { return 0.01 * std::sin(6.2832 * 9 * t + 1); };
    const support::Eye eye = support::render(settings);
    const Analysis a = analyse(eye.view(), {.dark_v = 0.0});
    INFO(times << "x");
    REQUIRE(a.has_eye);
    CHECK(*a.speed == std::round(times));
    CHECK(*a.channel_rate_hz == Approx(eye.truth.channel_rate_hz).epsilon(100e-6));
    CHECK(a.frames == eye.truth.frames);
    CHECK(a.sync_lost == 0);
    CHECK(*a.level.i11_v == Approx(eye.truth.i11_v).epsilon(0.001));
  }
}

TEST_CASE("analysis: a moving baseline is followed and does not bias the levels", "[disc]") {
  for (const double hz : {10.0, 50.0, 200.0, 1000.0}) {
    EyeSettings settings;
    settings.duration_s = 0.015;
    settings.baseline_v = [&](double t) { return 0.3 * std::sin(6.2832 * hz * t + 1); };
    const support::Eye eye = support::render(settings);
    const Analysis a = analyse(eye.view(), {.dark_v = -0.5});
    INFO(hz << " Hz");
    REQUIRE(a.has_eye);
    CHECK(*a.level.i11_v == Approx(eye.truth.i11_v).epsilon(0.001));
    CHECK(*a.level.mean_v == Approx(eye.truth.mean_v).margin(0.001));
    CHECK(a.frames == eye.truth.frames);
    CHECK(a.c1->e11 + a.c1->e21 + a.c1->e31 == 0);
    CHECK(*a.jitter_all_ns < 9);  // intersymbol part 3.8 ns, noise 4.5 ns; a fixed level would give more than 50 ns
  }
}

TEST_CASE("analysis: asymmetry is read over the whole range of the standard", "[disc]") {
  for (const double longer_t : {-0.9, -0.6, -0.3, 0.3, 0.6, 0.9}) {
    EyeSettings settings;
    settings.duration_s = 0.005;
    settings.pit_longer_t = longer_t;
    const support::Eye eye = support::render(settings);
    const Analysis a = analyse(eye.view(), {.dark_v = 0.0});
    INFO(longer_t << " T");
    CHECK(*a.asymmetry == Approx(eye.truth.asymmetry).margin(0.001));
    CHECK(*a.level.i11_v == Approx(eye.truth.i11_v).epsilon(0.001));
    CHECK(a.frames == eye.truth.frames);
  }
}

TEST_CASE("analysis: noise does not cross twice, and the levels stay free of it", "[disc]") {
  for (const double noise_v : {0.0, 0.013, 0.026, 0.039}) {  // to 3 % of the eye
    for (const double rate_hz : {10e6, 20e6, 100e6}) {
      EyeSettings settings;
      settings.rate_hz = rate_hz;
      settings.noise_v = noise_v;
      settings.duration_s = 0.005;
      const support::Eye eye = support::render(settings);
      const Analysis a = analyse(eye.view(), {.dark_v = 0.0});
      INFO(noise_v << " V at " << rate_hz << " Hz");
      REQUIRE(a.has_eye);
      CHECK(*a.level.i11_v == Approx(eye.truth.i11_v).margin(4 * *a.level_standard_error_v + 0.0005));
      CHECK(*a.level_noise_v == Approx(noise_v).margin(0.1 * noise_v + 0.001));
      CHECK(a.frames == eye.truth.frames);
      CHECK(a.c1->e11 + a.c1->e21 + a.c1->e31 == 0);
    }
  }
}

TEST_CASE("analysis: half a millisecond is enough for the clock, wherever it begins and with 4 % of noise", "[disc]") {
  for (const double rate_hz : {8e6, 20e6, 100e6}) {
    for (int n = 0; n < 30; ++n) {
      EyeSettings settings;
      settings.rate_hz = rate_hz;
      settings.noise_v = 0.04 * 1.3;
      settings.edge_jitter_t = 0.05;
      settings.duration_s = 0.0005;  // 3.7 frames: two or three pairs of syncs
      settings.seed = 1 + static_cast<std::uint64_t>(n);
      settings.start_bit = 1000 + 97.0 * n;
      const support::Eye eye = support::render(settings);
      const Analysis a = analyse(eye.view(), {.dark_v = 0.0});
      INFO(rate_hz << " Hz, seed " << settings.seed);
      REQUIRE(a.has_eye);
      CHECK(a.locked_share > 0.9);
      // From some twenty runs the standard error is itself uncertain.
      CHECK(*a.level.i11_v == Approx(eye.truth.i11_v).margin(4 * *a.level_standard_error_v + 0.005 * 1.3));
    }
  }
}

TEST_CASE("analysis: a capture of a sequence gives levels and their standard error, and no more than was asked",
          "[disc]") {
  AnalysisOptions options;
  options.dark_v = 0.0;
  options.subcode_wanted = false;
  options.errors_wanted = false;
  double off = 0, squares = 0, stated = 0;
  constexpr int captures = 24;
  for (int i = 0; i < captures; ++i) {
    EyeSettings settings;
    settings.duration_s = 500e-6;  // 10 000 samples, 3.67 frames
    settings.start_bit = 600 + 530.0 * i;
    settings.seed = static_cast<std::uint64_t>(i) + 1;
    settings.noise_v = 0.013;
    const support::Eye eye = support::render(settings);
    const Analysis a = analyse(eye.view(), options);
    REQUIRE(a.has_eye);
    REQUIRE(a.level_standard_error_v);
    CHECK(a.level_runs >= 6);
    CHECK(a.subcode.empty());
    CHECK_FALSE(a.c1);
    const double error = *a.level.peak_to_peak_v - eye.truth.i11_v;
    off += error;
    squares += error * error;
    stated += *a.level_standard_error_v * *a.level_standard_error_v;
  }
  // Bias over many captures: a tenth of 1 % of the level; the stated standard error is that of the scatter seen.
  CHECK(std::abs(off / captures) < 0.001 * 1.3);
  CHECK(std::sqrt(squares / stated) > 0.6);
  CHECK(std::sqrt(squares / stated) < 1.5);
}
