// SPDX-License-Identifier: Apache-2.0
#include "core/signal/square_wave.hpp"

#include <catch2/catch.hpp>

#include <cmath>

#include "core/base/error.hpp"

using namespace eyelevel;

namespace {

// A square wave from 0.1 V to 1.1 V whose edges overshoot by a share of its height that dies away with a time constant,
// as behind a divider with a mismatched capacitor. Begins in the middle of a low.
signal::Waveform wave(double frequency_hz, double overshoot, double duration_s = 10e-3) {
  constexpr double rate_hz = 20e6, tau_s = 100e-6;
  std::vector<float> volts(static_cast<std::size_t>(duration_s * rate_hz));
  for (std::size_t i = 0; i < volts.size(); ++i) {
    const double turns = (static_cast<double>(i) + 0.25) / rate_hz * frequency_hz + 0.75;
    const double phase = turns - std::floor(turns);
    const bool high = phase < 0.5;
    const double since_s = (high ? phase : phase - 0.5) / frequency_hz;
    const double flat = high ? 1.1 : 0.1;
    volts[i] = static_cast<float>(flat + (high ? 1 : -1) * overshoot * std::exp(-since_s / tau_s));
  }
  signal::Waveform w;
  w.codes = std::move(volts);
  w.rate_hz = rate_hz;
  return w;
}

}  // namespace

TEST_CASE("square wave: a flat one has its levels, its frequency and no overshoot", "[signal]") {
  const auto found = signal::square_wave_of(wave(1003, 0).view());
  CHECK(found.low_v == Approx(0.1).epsilon(1e-6));
  CHECK(found.high_v == Approx(1.1).epsilon(1e-6));
  CHECK(found.early_share == Approx(0).margin(1e-6));
  CHECK(found.frequency_hz == Approx(1003).epsilon(10e-6));  // an edge between two samples of 50 ns, over 9 ms
  CHECK(found.tops == 10);
}

TEST_CASE("square wave: what the edges overshoot or round off is seen early on the tops, with its sign", "[signal]") {
  // Over 5 to 15 us after the edge a decay of 100 us stands at 0.905 of its beginning on average; over the last fifth,
  // 400 to 500 us, at 0.0116 (integrals of exp(-t/100 us)).
  for (const double overshoot : {0.15, 0.02, -0.15}) {
    const auto found = signal::square_wave_of(wave(1000, overshoot).view());
    CHECK(found.early_share == Approx(overshoot * (0.905 - 0.0116) / (1 + 2 * 0.0116 * overshoot)).epsilon(0.01));
  }
}

TEST_CASE("square wave: no wave, half a wave and a wave of too few samples are refused", "[signal]") {
  CHECK_THROWS_AS(signal::square_wave_of(wave(1000, 0, 0.1e-3).view()), base::Error);
  CHECK_THROWS_AS(signal::square_wave_of(wave(1000, 0, 0.7e-3).view()), base::Error);
  CHECK_THROWS_WITH(signal::square_wave_of(wave(200e3, 0).view()), Catch::Contains("too short"));
}
