// SPDX-License-Identifier: Apache-2.0
// Sweeps against ground truth: jitter that the renderer put in, closed form. Each check prints its error beside what
// the number of edges allows.
#include <catch2/catch.hpp>

#include <cmath>

#include "core/disc/analysis.hpp"
#include "core/disc/clock/recovery.hpp"
#include "tests/support/eye_renderer.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;

namespace {

constexpr double bit_ns = 1e9 / 4321800, pi = 3.14159265358979323846;

Analysis measured(const support::EyeSettings& settings) { return analyse(support::render(settings).view()); }

support::EyeSettings clean(double edge_jitter_t) {
  support::EyeSettings settings;
  settings.noise_v = 0;
  settings.blur_t = 0.6;  // so little that an edge 3T away is not felt: else neighbours widen the jitter by 6 %
  settings.duration_s = 0.02;
  settings.edge_jitter_t = edge_jitter_t;
  return settings;
}

double square(double x) { return x * x; }

}  // namespace

TEST_CASE("jitter sweep: edges scatter about the clock as they were made to", "[disc]") {
  // What is there without jitter, from the neighbours of each edge, adds in squares.
  const double own_ns = *measured(clean(0)).edge_jitter_ns;
  for (const double t : {0.02, 0.04, 0.06, 0.08, 0.10}) {
    const Analysis a = measured(clean(t));
    // The clock takes up a little of white jitter, recovery.hpp: 1.02 times as much is seen.
    const double truth_ns = 1.02 * t * bit_ns;
    const double found_ns = std::sqrt(square(*a.edge_jitter_ns) - square(own_ns));
    const double by_chance = 1 / std::sqrt(2 * 18000.0);  // relative standard deviation of a standard deviation
    CAPTURE(t, found_ns, truth_ns, (found_ns / truth_ns - 1) / by_chance);
    CHECK(found_ns == Approx(truth_ns).epsilon(4 * by_chance));
  }
}

TEST_CASE("jitter sweep: run lengths scatter by the root of two of an edge", "[disc]") {
  const double own_ns = *measured(clean(0)).jitter_all_ns;
  for (const double t : {0.02, 0.04, 0.06, 0.08, 0.10}) {
    const Analysis a = measured(clean(t));
    const double truth_ns = std::sqrt(2.0) * t * bit_ns;
    const double found_ns = std::sqrt(square(*a.jitter_all_ns) - square(own_ns));
    // Neighbouring runs share an edge, so that half as many are independent.
    const double by_chance = 1 / std::sqrt(18000.0);
    CAPTURE(t, found_ns, truth_ns, (found_ns / truth_ns - 1) / by_chance);
    CHECK(found_ns == Approx(truth_ns).epsilon(4 * by_chance));
  }
}

TEST_CASE("jitter sweep: the clock follows what is slower than its bandwidth, and shows what is faster", "[disc]") {
  const double corner_hz = clock::loop_bandwidth_hz(4321800);
  CHECK(corner_hz == Approx(6.8e3).epsilon(0.02));
  for (const double times : {0.25, 0.5, 1.0, 2.0, 4.0}) {
    const double hz = times * corner_hz, deviation_t = 0.15;
    support::EyeSettings settings = clean(0);
    // Phase in channel bits: deviation sin(2 pi f t); the rate changes by its derivative.
    settings.rate_change = [&](double t) { return deviation_t * 2 * pi * hz * std::cos(2 * pi * hz * t) / 4321800; };
    const double own_ns = *measured(clean(0)).edge_jitter_ns;
    const Analysis a = measured(settings);
    // A critically damped loop of second order: its error is s^2 / (s + w)^2 of the jitter, 0.707 at 1.554 w.
    const double ratio = square(1.554 * times);
    const double truth_ns = deviation_t / std::sqrt(2.0) * ratio / (1 + ratio) * bit_ns;
    const double found_ns = std::sqrt(square(*a.edge_jitter_ns) - square(own_ns));
    CAPTURE(times, found_ns, truth_ns);
    // The loop steps from edge to edge, 3 to 11 T apart, and is a straight line in time only on average.
    CHECK(found_ns == Approx(truth_ns).epsilon(0.06));
    CHECK(*a.edge_jitter_loop_hz == Approx(corner_hz).epsilon(1e-3));
  }
}

TEST_CASE("jitter sweep: what the oscilloscope adds is told beside the jitter", "[disc]") {
  support::EyeSettings settings = clean(0.003);  // little, so that chance does not hide what is added
  const Analysis without = measured(settings);
  for (const double noise_v : {0.004, 0.008, 0.012, 0.016}) {
    settings.noise_v = noise_v;
    const Analysis with = measured(settings);
    const double added_ns = std::sqrt(square(*with.jitter_all_ns) - square(*without.jitter_all_ns));
    CAPTURE(noise_v, added_ns);
    // Straight lines between samples add their part with and without noise.
    const double truth_ns = std::hypot(added_ns, *without.jitter_of_instrument_ns);
    CHECK(*with.jitter_of_instrument_ns == Approx(truth_ns).epsilon(0.08));
    CHECK(*with.edge_jitter_of_instrument_ns == Approx(*with.jitter_of_instrument_ns / std::sqrt(2.0)));
  }
}

TEST_CASE("jitter sweep: steps of a coarse converter count as the oscilloscope's", "[disc]") {
  const Analysis fine = measured(clean(0.03));
  // 14 codes for the whole eye.
  const Analysis coarse = analyse(support::render(clean(0.03)).on_screen(-10, 13).view());
  const double added_ns = std::sqrt(square(*coarse.jitter_all_ns) - square(*fine.jitter_all_ns));
  CAPTURE(added_ns);
  CHECK(*coarse.jitter_of_instrument_ns == Approx(added_ns).epsilon(0.2));
}
