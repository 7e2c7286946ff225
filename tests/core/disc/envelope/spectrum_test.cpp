// SPDX-License-Identifier: Apache-2.0
// The transform itself is held against numpy's in tests/outside/hann_spectrum.py.
#include "core/disc/envelope/spectrum.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <complex>
#include <limits>

using namespace eyelevel::disc::envelope;

namespace {

constexpr double pi = 3.14159265358979323846;

std::vector<double> sine(std::size_t n, double line, double amplitude, double phase) {
  std::vector<double> values(n);
  for (std::size_t i = 0; i < n; ++i) {
    values[i] = 7 + amplitude * std::cos(2 * pi * line * static_cast<double>(i) / static_cast<double>(n) + phase);
  }
  return values;
}

}  // namespace

TEST_CASE("spectrum: the constants of the window are those of its definition", "[disc]") {
  for (const std::size_t n : {4096U, 65536U}) {
    double sum = 0, squares = 0;
    std::complex<double> between = 0;  // W at half a line
    for (std::size_t i = 0; i < n; ++i) {
      const double x = static_cast<double>(i) / static_cast<double>(n), w = 0.5 - 0.5 * std::cos(2 * pi * x);
      sum += w;
      squares += w * w;
      between += w * std::polar(1.0, -pi * x);
    }
    CHECK(Hann::coherent_gain == Approx(sum / static_cast<double>(n)).epsilon(1e-12));
    CHECK(Hann::noise_bandwidth_lines == Approx(static_cast<double>(n) * squares / (sum * sum)).epsilon(1e-12));
    // The closed form is the limit of many points; the difference falls with their square, 1 / 4096^2 = 6e-8.
    CHECK(Hann::scalloping == Approx(std::abs(between) / sum).epsilon(1e-6));
    CHECK(-20 * std::log10(Hann::scalloping) == Approx(1.42).margin(0.005));
  }
}

TEST_CASE("spectrum: a sine has its amplitude on a line, and the scalloping loss between two", "[disc]") {
  for (const double phase : {0.0, 0.7, 2.0}) {
    const auto on = hann_spectrum(sine(1000, 100, 2, phase));
    CHECK(on.points == 1000);
    REQUIRE(on.amplitudes.size() == 500);
    CHECK(on.amplitudes[100] == Approx(2).epsilon(1e-12));
    CHECK(on.amplitudes[99] == Approx(1).epsilon(1e-12));
    CHECK(on.amplitudes[97] < 1e-10);
    CHECK(on.amplitudes[0] < 1e-10);  // the mean of 7
    const auto between = hann_spectrum(sine(1000, 100.5, 2, phase));
    // The image at the negative frequency is 201 lines away: its side lobes are below 1e-6 of it.
    CHECK(between.amplitudes[100] == Approx(2 * Hann::scalloping).epsilon(1e-5));
    CHECK(between.amplitudes[101] == Approx(2 * Hann::scalloping).epsilon(1e-5));
  }
}

TEST_CASE("spectrum: so many points are looked at that the transform is fast", "[disc]") {
  CHECK(fast_length(0) == 0);
  CHECK(fast_length(1) == 1);
  CHECK(fast_length(7) == 6);
  CHECK(fast_length(65521) == 64800);  // a prime
  CHECK(fast_length(65536) == 65536);
  for (std::size_t n = 64; n < 20000; n += 13) {
    std::size_t left = fast_length(n);
    CHECK(left <= n);
    CHECK(static_cast<double>(left) > 0.92 * static_cast<double>(n));
    for (const std::size_t prime : {2U, 3U, 5U}) {
      while (left % prime == 0) left /= prime;
    }
    CHECK(left == 1);
  }
}

TEST_CASE("spectrum: nothing, one value and values that are no number do no harm", "[disc]") {
  CHECK(hann_spectrum({}).amplitudes.empty());
  const std::vector<double> one{3};
  CHECK(hann_spectrum(one).amplitudes.empty());
  const std::vector<double> two{1, 2};
  CHECK(hann_spectrum(two).amplitudes.size() == 1);
  const std::vector<double> none(100, std::numeric_limits<double>::quiet_NaN());
  const auto spectrum = hann_spectrum(none);
  REQUIRE(spectrum.amplitudes.size() == 50);
  for (const double a : spectrum.amplitudes) CHECK(std::isnan(a));
}
