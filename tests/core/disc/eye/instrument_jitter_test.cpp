// SPDX-License-Identifier: Apache-2.0
#include "core/disc/eye/instrument_jitter.hpp"

#include <catch2/catch.hpp>

#include <cmath>

#include "tests/support/run_row.hpp"

using namespace eyelevel::disc;

namespace {

constexpr double pi = 3.14159265358979323846;

// Edges of a sine of height 1 through its zeros, at all places between samples.
struct Made {
  std::vector<float> x;
  std::vector<eye::Run> runs;
};

Made sine(double period) {
  Made made;
  for (int i = 0; i < 200000; ++i) made.x.push_back(static_cast<float>(std::sin(2 * pi * i / period)));
  for (double at = period; at < 199000; at += period / 2)
    made.runs.push_back({at, at + period / 2, 1, 0, 3, made.runs.size() % 2 == 0});
  return made;
}

double of_edge(const Made& made, double noise) {
  eye::InstrumentJitter jitter;
  eyelevel::support::RunRow(made.runs).give(
      [&](const eye::Runs& some) { jitter.take(std::span<const float>(made.x), some); });
  return *jitter.of_edge(noise);
}

}  // namespace

TEST_CASE("instrument jitter: noise over slope, less what the line between two samples averages", "[disc]") {
  const double period = 100.03, slope = 2 * pi / period;
  // The crossing is weighted (1 - u) and u between two samples: the mean of (1 - u)^2 + u^2 is 2/3.
  CHECK(of_edge(sine(period), 0.01) == Approx(std::sqrt(2.0 / 3) * 0.01 / slope).epsilon(0.01));
}

TEST_CASE("instrument jitter: without noise what is left is the bend of the edge between samples", "[disc]") {
  // At the zero of a sine the edge is straight: the error is that of the third derivative, hardly a thousandth.
  CHECK(of_edge(sine(100.03), 0) < 2e-3);
  // A bent edge: a parabola x + c x^2 through zero with 1 code a sample has a second difference of 2c.
  const double c = 0.1;
  Made made;
  for (int i = 0; i < 160000; ++i) {
    const double u = static_cast<double>(i % 100) - 50 + static_cast<double>(i / 100 % 97) / 97;
    made.x.push_back(static_cast<float>(std::abs(u) < 4 ? u + c * u * u : 0));
    if (i % 100 == 50) made.runs.push_back({i - static_cast<double>(i / 100 % 97) / 97, i + 20.0, 1, 0, 3, true});
  }
  // u (1 - u) / 2 x 2c over the slope; the mean of (u (1 - u))^2 is 1/30. The slope over three steps is 1 + c (1 - 2
  // u), which is 1 on average.
  CHECK(of_edge(made, 0) == Approx(c / std::sqrt(30.0)).epsilon(0.1));
}

TEST_CASE("instrument jitter: without edges nothing is said", "[disc]") {
  CHECK_FALSE(eye::InstrumentJitter().of_edge(1));
}
