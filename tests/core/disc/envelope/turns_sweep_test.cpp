// SPDX-License-Identifier: Apache-2.0
// How far the turns that are found lie from the truth, against what noise leaves at least: the Cramer-Rao bound for
// constant, slope, amplitude, phase and frequency together, from the Fisher information of white Gaussian noise (S. M.
// Kay, Fundamentals of statistical signal processing: estimation theory (1993), 3.9). Printed as a ratio with its own
// uncertainty.
#include <catch2/catch.hpp>

#include <fmt/format.h>

#include <Eigen/Dense>

#include <cmath>
#include <cstdio>

#include "core/base/random.hpp"
#include "core/disc/envelope/envelope.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;

namespace {

constexpr double spacing_s = 136e-6, noise = 0.01, pi = 3.14159265358979323846;

struct Truth {
  double hz, depth, duration_s;
};

struct Deviations {
  double hz, depth;
};

Deviations bound_of(const Truth& truth, double phase) {
  using Vector5 = Eigen::Matrix<double, 5, 1>;
  Eigen::Matrix<double, 5, 5> information = Eigen::Matrix<double, 5, 5>::Zero();
  const double mid = 0.5 * truth.duration_s;
  for (double t = 0; t < truth.duration_s; t += spacing_s) {
    const double angle = 2 * pi * truth.hz * t + phase, turn = truth.depth * std::cos(angle);
    Vector5 slopes;  // by constant, slope, depth, phase, frequency
    slopes << 1, (t - mid) / mid, std::sin(angle), turn, 2 * pi * t * turn;
    information += slopes * slopes.transpose() / (noise * noise);
  }
  const Eigen::Matrix<double, 5, 5> least = information.ldlt().solve(Eigen::Matrix<double, 5, 5>::Identity());
  return {std::sqrt(least(4, 4)), std::sqrt(least(2, 2))};
}

// A point has the noise of one Gaussian value: the other extreme is quiet.
EnvelopeFigures found(const Truth& truth, double phase, base::Random& random) {
  envelope::EnvelopeSums sums(spacing_s, 1);
  for (double t = 0; t < truth.duration_s; t += spacing_s)
    sums.take(0.0, 1 + truth.depth * std::sin(2 * pi * truth.hz * t + phase) + noise * random.normal());
  return sums.figures(1);
}

}  // namespace

TEST_CASE("envelope: turns are found as well as noise allows, in rate and in depth", "[disc]") {
  constexpr int trials = 40;
  constexpr std::uint64_t seed = 5;
  std::printf("turns, seed %llu: deviation over Cramer-Rao bound, %d trials each\n",
              static_cast<unsigned long long>(seed), trials);
  double all = 0;
  int cases = 0;
  for (const double hz : {3.37, 5.17, 8.81}) {
    for (const double depth : {0.01, 0.06}) {
      for (const double duration_s : {0.62, 1.1, 2.5}) {
        const Truth truth{hz, depth, duration_s};
        CAPTURE(hz, depth, duration_s);
        base::Random random(seed, fmt::format("turns {} {} {}", hz, depth, duration_s));
        double squares_hz = 0, squares_depth = 0, sum_hz = 0;
        for (int n = 0; n < trials; ++n) {
          const double phase = random.uniform(0, 2 * pi);
          const Deviations bound = bound_of(truth, phase);
          const EnvelopeFigures e = found(truth, phase, random);
          REQUIRE(e.once_around);
          const double off_hz = (e.once_around->hz - hz) / bound.hz;
          // In per cent of the mean height, which is that of the sine over the record: multiplied back.
          const double off_depth = (0.01 * e.once_around->height_percent * *e.height_v - depth) / bound.depth;
          squares_hz += off_hz * off_hz;
          squares_depth += off_depth * off_depth;
          sum_hz += off_hz;
        }
        const double ratio_hz = std::sqrt(squares_hz / trials), ratio_depth = std::sqrt(squares_depth / trials);
        std::printf("  %.2f Hz, depth %.0f %%, %.2f s: rate %.2f, depth %.2f\n", hz, 100 * depth, duration_s, ratio_hz,
                    ratio_depth);
        // The ratio of so many trials scatters by 1 / sqrt(2 trials) = 0.11: four times that to either side.
        const double slack = 4 / std::sqrt(2.0 * trials);
        CHECK(ratio_hz == Approx(1).margin(slack));
        CHECK(ratio_depth == Approx(1).margin(slack));
        CHECK(std::abs(sum_hz / trials) < 4 / std::sqrt(1.0 * trials));  // no bias
        all += squares_hz / trials + squares_depth / trials;
        cases += 2;
      }
    }
  }
  const double mean = std::sqrt(all / cases);
  std::printf("  over all: %.3f\n", mean);
  CHECK(mean == Approx(1).margin(4 / std::sqrt(2.0 * trials * cases)));
}
