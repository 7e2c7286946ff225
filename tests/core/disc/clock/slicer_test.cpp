// SPDX-License-Identifier: Apache-2.0
#include "core/disc/clock/slicer.hpp"

#include <catch2/catch.hpp>

#include <array>
#include <cmath>

#include "core/base/random.hpp"
#include "tests/support/eye_renderer.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;

namespace {

constexpr double turn = 2 * 3.14159265358979323846;

// A sine of so many samples to a period: rises through zero at multiples of the period.
std::vector<float> sine(std::size_t n, double period, double noise = 0) {
  base::Random random(5, "noise");
  std::vector<float> x;
  for (std::size_t i = 0; i < n; ++i) {
    x.push_back(static_cast<float>(std::sin(turn * static_cast<double>(i) / period) + noise * random.normal()));
  }
  return x;
}

const clock::LevelTrack zero{0, 1, {0.0}};

}  // namespace

TEST_CASE("level track: straight lines between knots, constant beyond the ends", "[disc]") {
  const clock::LevelTrack track{100, 50, {1.0, 3.0, 2.0}};
  CHECK(track.at(0) == 1.0);
  CHECK(track.at(100) == 1.0);
  CHECK(track.at(125) == Approx(2.0));
  CHECK(track.at(175) == Approx(2.5));
  CHECK(track.at(1e9) == 2.0);
}

TEST_CASE("level track: a row of levels is what each sample has, before, between and beyond the knots", "[disc]") {
  for (const clock::LevelTrack& track : {clock::LevelTrack{100, 50, {1.0, 3.0, 2.0}}, zero}) {
    for (const double step : {1.0, 64.0, 300.0}) {
      std::array<float, 200> levels;
      track.along(-30, step, levels);
      for (std::size_t k = 0; k < levels.size(); ++k) {
        CHECK(static_cast<double>(levels[k]) == Approx(track.at(-30 + static_cast<double>(k) * step)));
      }
    }
  }
}

TEST_CASE("slicer: every crossing of a sine is found where it is", "[disc]") {
  for (const double period : {9.7, 33.3, 517.0}) {
    const std::vector<float> x = sine(20000, period);
    const signal::CodesView view = std::span<const float>(x);
    const clock::Edges edges = clock::slice(view, clock::survey(view, 20e6), zero, 0.05);
    INFO(period << " samples a period");
    REQUIRE(edges.size() >= static_cast<std::size_t>(2 * 20000 / period) - 2);
    // The first crossing after the start is the falling one, if the edge at sample 0 itself is not counted.
    const double first = edges.first_rises ? 0 : 0.5 * period;
    // Straight lines between samples of a sine: at most 6.5e-4 of a period at 10 samples to a period.
    for (std::size_t k = 0; k < edges.size(); ++k) {
      const double place = edges.at[k] - first;
      const double off = place - std::nearbyint(place / (0.5 * period)) * 0.5 * period;
      CHECK(std::abs(off) < 1e-3 * period);
      if (k > 0) CHECK(edges.run(k - 1) == Approx(0.5 * period).margin(2e-3 * period));
    }
  }
}

TEST_CASE("slicer: integer codes give the edges of the floats they stand for", "[disc]") {
  const std::vector<float> x = sine(20000, 41.7);
  std::vector<std::int8_t> small;
  std::vector<std::int16_t> large;
  for (const float v : x) {
    small.push_back(static_cast<std::int8_t>(std::lround(100 * v)));
    large.push_back(static_cast<std::int16_t>(std::lround(30000 * v)));
  }
  const signal::CodesView floats = std::span<const float>(x), bytes = std::span<const std::int8_t>(small),
                          words = std::span<const std::int16_t>(large);
  const clock::Edges a = clock::slice(floats, clock::survey(floats, 20e6), zero, 0.05);
  const clock::Edges b = clock::slice(bytes, clock::survey(bytes, 20e6), zero, 5);
  const clock::Edges c = clock::slice(words, clock::survey(words, 20e6), zero, 1500);
  REQUIRE(a.size() == b.size());
  REQUIRE(a.size() == c.size());
  for (std::size_t k = 0; k < a.size(); ++k) {
    CHECK(b.at[k] == Approx(a.at[k]).margin(0.1));  // half a code over the slope of 15 codes a sample, twice
    CHECK(c.at[k] == Approx(a.at[k]).margin(0.001));
  }
}

TEST_CASE("slicer: noise on a slow slope crosses once, at the middle of its crossings", "[disc]") {
  const double period = 2000;  // the slope is 0.003 a sample, the noise fifteen times that
  const std::vector<float> x = sine(60000, period, 0.05);
  const signal::CodesView view = std::span<const float>(x);
  const clock::Edges edges = clock::slice(view, clock::survey(view, 20e6), zero, 0.175);
  CHECK(edges.size() >= 59);
  CHECK(edges.size() <= 60);
  for (std::size_t k = 1; k < edges.size(); ++k) CHECK(edges.run(k - 1) == Approx(1000).margin(60));
}

TEST_CASE("slicer: moved to another level, an edge is where the signal crosses that one", "[disc]") {
  const double period = 50;
  const std::vector<float> x = sine(5000, period);
  const signal::CodesView view = std::span<const float>(x);
  clock::Edges edges = clock::slice(view, clock::survey(view, 20e6), zero, 0.05);
  clock::reslice(view, 0, std::vector<float>(edges.size(), 0.2F), 0.05, edges);
  const double moved = std::asin(0.2) / turn * period;
  for (std::size_t k = 1; k + 1 < edges.size(); ++k) {
    const double high = edges.rises(k) ? -2 * moved : 2 * moved;
    CHECK(edges.run(k) == Approx(0.5 * period + high).margin(0.05));
  }
}

TEST_CASE("slicer: the level follows the middle of a moving, asymmetric eye", "[disc]") {
  support::EyeSettings settings;
  settings.duration_s = 0.01;
  settings.pit_longer_t = 0.6;
  settings.baseline_v = [](double t) { return 0.3 * std::sin(6.2832 * 100 * t); };
  const support::Eye eye = support::render(settings);
  const signal::CodesView view = eye.view().codes;
  const clock::LevelTrack track = clock::middle_level(view, clock::survey(view, eye.rate_hz));
  // Pits longer by 0.6 T put the balanced level 0.12 V below the middle (slope of an edge 0.415 V a channel bit, both
  // ends).
  for (double t = 0.001; t < 0.009; t += 0.0005) {
    const double middle = 1.35 + 0.3 * std::sin(6.2832 * 100 * t);
    CHECK(track.at(t * eye.rate_hz) == Approx(middle - 0.12).margin(0.07));
  }
}

TEST_CASE("slicer: a usual level is taken where half of the samples lie above it, and not where they do not",
          "[disc]") {
  support::EyeSettings settings;
  settings.duration_s = 0.01;
  settings.pit_longer_t = 0.6;
  const support::Eye eye = support::render(settings);
  const signal::CodesView view = eye.view().codes;
  const clock::Survey survey = clock::survey(view, eye.rate_hz);
  const double found = clock::middle_level(view, survey).raised;
  CHECK(found == Approx(-0.12).margin(0.07));  // as in the test before
  CHECK(clock::middle_level(view, survey, found + 0.01).raised == found + 0.01);
  for (const double wrong : {found + 0.4, found - 0.4, 10.0, -10.0}) {
    CHECK(clock::middle_level(view, survey, wrong).raised == found);
  }
}

TEST_CASE("slicer: a part of a record has the edges that the whole has there", "[disc]") {
  const std::vector<float> x = sine(20000, 33.3);
  const signal::CodesView view = std::span<const float>(x);
  const clock::Survey survey = clock::survey(view, 20e6);
  const clock::Edges whole = clock::slice(view, survey, zero, 0.05);
  const std::size_t from = 5 * survey.block, to = 20 * survey.block;
  const clock::Edges part = clock::slice(view, survey, zero, 0.05, {from, to});
  const std::size_t first = whole.from(static_cast<double>(from + 40)), begins = part.from(whole.at[first] - 1e-6);
  const std::size_t count = part.size() - begins;
  REQUIRE(count > (to - from) / 17 - 4);
  CHECK(part.at[0] > static_cast<double>(from));
  CHECK(part.at.back() < static_cast<double>(to));
  CHECK(part.rises(begins) == whole.rises(first));
  for (std::size_t k = 0; k < count; ++k)
    CHECK(part.at[begins + k] == Approx(whole.at[first + k]).epsilon(0).margin(1e-6));  // kernels.hpp: one part in 2^22
}

TEST_CASE("slicer: the hysteresis covers three and a half standard deviations where the eye leaves room", "[disc]") {
  clock::Survey s;
  s.amplitude = 1;
  s.noise = 0.02;
  CHECK(clock::hysteresis_for(s) == Approx(0.07));
  s.noise = 0.001;
  CHECK(clock::hysteresis_for(s) == Approx(0.04));
  s.noise = 0.5;
  CHECK(clock::hysteresis_for(s) == Approx(0.12));
}

TEST_CASE("slicer: a signal that crosses at every sample has no edges, and takes no memory for them", "[disc]") {
  std::vector<std::int8_t> x;
  for (int i = 0; i < 100000; ++i) x.push_back(i % 2 == 0 ? std::int8_t{100} : std::int8_t{-100});
  const signal::CodesView view = std::span<const std::int8_t>(x);
  const clock::Edges edges = clock::slice(view, clock::survey(view, 20e6), zero, 5);
  CHECK(edges.size() == 0);
  CHECK(edges.at.capacity() < x.size());
}
