// SPDX-License-Identifier: Apache-2.0
// Outside truth: the definition of the interval, by sums of Poisson probabilities, and the printed table of confidence
// limits for a Poisson mean (Pearson and Hartley, Biometrika Tables, table 40).
#include "core/disc/circ/error_rate.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using namespace eyelevel::disc::circ;

namespace {

// Probability of `most` events or fewer, each term from its logarithm.
double poisson_at_most(std::int64_t most, double mean) {
  double sum = 0;
  for (std::int64_t k = 0; k <= most; ++k) {
    const auto x = static_cast<double>(k);
    sum += std::exp(x * std::log(mean) - mean - std::lgamma(x + 1));
  }
  return sum;
}

}  // namespace

TEST_CASE("error rate: the limits are those of the printed table", "[disc]") {
  struct Row {
    std::int64_t events;
    double low, high;
  };
  // 95 % two-sided; half a unit of the last printed digit.
  for (const Row& row : {Row{0, 0, 3.69}, Row{1, 0.0253, 5.57}, Row{2, 0.242, 7.22}, Row{5, 1.62, 11.67},
                         Row{10, 4.80, 18.39}, Row{30, 20.24, 42.83}}) {
    const Interval interval = poisson_interval(row.events);
    INFO(row.events << " events");
    CHECK(interval.low == Approx(row.low).margin(row.low < 1 ? 0.0005 : 0.005));
    CHECK(interval.high == Approx(row.high).margin(0.005));
  }
}

TEST_CASE("error rate: at either limit the count is as rare as stated", "[disc]") {
  for (const double probability : {0.5, 0.95, 0.999}) {
    const double tail = 0.5 * (1 - probability);
    for (const std::int64_t events : {1, 3, 17, 220, 2205}) {
      const Interval interval = poisson_interval(events, probability);
      INFO(events << " events at " << probability);
      // Sums of up to 2205 terms of relative error 1e-12 (logarithms near 1e4 in 53 bits).
      CHECK(1 - poisson_at_most(events - 1, interval.low) == Approx(tail).epsilon(1e-6));
      CHECK(poisson_at_most(events, interval.high) == Approx(tail).epsilon(1e-6));
    }
  }
}

TEST_CASE("error rate: of so many events that a lifetime does not count them there is an interval, too", "[disc]") {
  for (const std::int64_t events : {100'000'000LL, 100'000'001LL, 250'000'000'000LL, 1'000'000'000'000'000LL}) {
    const Interval interval = poisson_interval(events);
    const auto n = static_cast<double>(events);
    // Cornish and Fisher (1938): n + z sqrt(n) + (z^2 - 1) / 3, the lower limit from n, the upper one from n + 1; the
    // next term is of the size 1 / sqrt(n), digits of a double end at n / 2^52.
    const double z = 1.9599639845400545, bend = (z * z - 1) / 3, slack = 10 / std::sqrt(n) + std::ldexp(n, -50);
    INFO(events << " events");
    CHECK(interval.low == Approx(n - z * std::sqrt(n) + bend).epsilon(0).margin(slack));
    CHECK(interval.high == Approx(n + 1 + z * std::sqrt(n + 1) + bend).epsilon(0).margin(slack));
  }
}
