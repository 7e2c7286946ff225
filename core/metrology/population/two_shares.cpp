// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/population/two_shares.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace eyelevel::metrology::population {

namespace {

constexpr std::int64_t exact_most = 20'000;

double log_factorial(std::int64_t n) { return std::lgamma(static_cast<double>(n) + 1); }
double log_choose(std::int64_t n, std::int64_t k) { return log_factorial(n) - log_factorial(k) - log_factorial(n - k); }

// Of x successes in a, given all margins: hypergeometric.
struct Margins {
  Counted a, b;
  double log_probability(std::int64_t x) const {
    const std::int64_t successes = a.successes + b.successes;
    return log_choose(a.trials, x) + log_choose(b.trials, successes - x) - log_choose(a.trials + b.trials, successes);
  }
};

double exact(const Counted& a, const Counted& b) {
  const Margins margins{a, b};
  const std::int64_t successes = a.successes + b.successes;
  const double here = margins.log_probability(a.successes);
  constexpr double alike = 1e-9;  // tables of the same probability differ by rounding
  double sum = 0;
  for (std::int64_t x = std::max<std::int64_t>(0, successes - b.trials); x <= std::min(a.trials, successes); ++x)
    if (const double log_probability = margins.log_probability(x); log_probability <= here + alike)
      sum += std::exp(log_probability);
  return std::min(1.0, sum);
}

double approximate(const Counted& a, const Counted& b) {
  const auto n_a = static_cast<double>(a.trials), n_b = static_cast<double>(b.trials);
  const double p_a = static_cast<double>(a.successes) / n_a, p_b = static_cast<double>(b.successes) / n_b;
  const double all = static_cast<double>(a.successes + b.successes) / (n_a + n_b);
  const double sd = std::sqrt(all * (1 - all) * (1 / n_a + 1 / n_b));
  return sd > 0 ? std::erfc(std::abs(p_a - p_b) / sd / std::numbers::sqrt2) : 1;
}

}  // namespace

double chance_of_difference(const Counted& a, const Counted& b) {
  if (a.trials == 0 || b.trials == 0) return 1;
  return a.trials + b.trials <= exact_most ? exact(a, b) : approximate(a, b);
}

}  // namespace eyelevel::metrology::population
