// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/population/capability.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>
#include <limits>

#include "core/base/error.hpp"
#include "core/metrology/judge.hpp"

namespace eyelevel::metrology::population {

namespace {

[[noreturn]] void refuse(std::string message) { throw base::Error(base::ErrorCode::bad_input, std::move(message)); }

void require_probability(double probability) {
  if (!(probability > 0 && probability < 1))
    refuse(fmt::format("probability {}, expected between 0 and 1", probability));
}

double two_sided_normal(double probability) {
  return boost::math::quantile(boost::math::normal(), (1 + probability) / 2);
}

// Integral from low to high in pieces of at most half the narrowest feature.
template <typename F>
double integral(F f, double low, double high, double feature) {
  if (!(high > low)) return 0;
  const int pieces = std::max(1, static_cast<int>(std::ceil(2 * (high - low) / feature)));
  const double width = (high - low) / pieces;
  double sum = 0;
  for (int i = 0; i < pieces; ++i) {
    sum += boost::math::quadrature::gauss<double, 15>::integrate(f, low + i * width, low + (i + 1) * width);
  }
  return sum;
}

}  // namespace

Capability capability(const Process& process, const Limit& limit, double probability) {
  require_usable(limit);
  require_probability(probability);
  if (!std::isfinite(process.mean) || !(process.sd > 0) || !std::isfinite(process.sd) || process.count < 2 ||
      !(process.degrees_of_freedom > 0)) {
    refuse(
        fmt::format("capability of {} readings with mean {}, standard deviation {} and {} degrees of freedom: "
                    "expected two or more, a number, and the last two above 0",
                    process.count, process.mean, process.sd, process.degrees_of_freedom));
  }
  Capability result;
  result.nearest = std::numeric_limits<double>::infinity();
  if (limit.at_least) result.nearest = (process.mean - *limit.at_least) / (3 * process.sd);
  if (limit.at_most) result.nearest = std::min(result.nearest, (*limit.at_most - process.mean) / (3 * process.sd));
  const double n = static_cast<double>(process.count);
  const double nu = process.degrees_of_freedom;
  const double half =
      two_sided_normal(probability) * std::sqrt(1 / (9 * n) + result.nearest * result.nearest / (2 * nu));
  result.nearest_range = {result.nearest - half, result.nearest + half};
  if (limit.at_least && limit.at_most) {
    result.spread = (*limit.at_most - *limit.at_least) / (6 * process.sd);
    const boost::math::chi_squared scatter(nu);
    const auto at = [&](double p) { return *result.spread * std::sqrt(boost::math::quantile(scatter, p) / nu); };
    result.spread_range = ShareRange{at((1 - probability) / 2), at((1 + probability) / 2)};
  }
  return result;
}

ShareRange share_range(std::int64_t successes, std::int64_t trials, double probability) {
  require_probability(probability);
  if (trials < 1 || successes < 0 || successes > trials) {
    refuse(fmt::format("{} of {}: expected one or more tried, and 0 to that many", successes, trials));
  }
  const double z = two_sided_normal(probability);
  const double n = static_cast<double>(trials);
  const double p = static_cast<double>(successes) / n;
  const double middle = (p + z * z / (2 * n)) / (1 + z * z / n);
  const double half = z * std::sqrt(p * (1 - p) / n + z * z / (4 * n * n)) / (1 + z * z / n);
  // Rounding must not leave 0 of n, or n of n, a hair off its end.
  return {successes == 0 ? 0 : middle - half, successes == trials ? 1 : middle + half};
}

GlobalRisk global_risk(const Population& population, double standard_uncertainty, const Limit& limit, double guard) {
  require_usable(limit);
  if (!(population.sd > 0) || !(standard_uncertainty > 0) || !std::isfinite(population.mean) || !std::isfinite(guard)) {
    refuse(
        fmt::format("risks of a population about {} with standard deviation {}, read with u {} and guard {}: "
                    "expected numbers, the second and third above 0",
                    population.mean, population.sd, standard_uncertainty, guard));
  }
  const boost::math::normal truths(population.mean, population.sd);
  constexpr double infinite = std::numeric_limits<double>::infinity();
  const double low = limit.at_least.value_or(-infinite);
  const double high = limit.at_most.value_or(infinite);
  const auto below = [&](double edge, double truth) {
    return std::erfc((truth - edge) / (standard_uncertainty * std::sqrt(2.0))) / 2;
  };
  const auto accepted = [&](double truth) { return below(high - guard, truth) - below(low + guard, truth); };
  const auto is_accepted = [&](double truth) { return boost::math::pdf(truths, truth) * accepted(truth); };
  const auto is_rejected = [&](double truth) { return boost::math::pdf(truths, truth) * (1 - accepted(truth)); };
  constexpr double far = 9;  // standard deviations of the population; beyond lies 1e-19
  const double least = population.mean - far * population.sd;
  const double most = population.mean + far * population.sd;
  const double feature = std::min(population.sd, standard_uncertainty);
  const double inside_low = std::clamp(low, least, most);
  const double inside_high = std::clamp(high, least, most);
  GlobalRisk risk;
  risk.consumers =
      integral(is_accepted, least, inside_low, feature) + integral(is_accepted, inside_high, most, feature);
  risk.producers = integral(is_rejected, inside_low, inside_high, feature);
  if (limit.at_least) risk.nonconforming += boost::math::cdf(truths, low);
  if (limit.at_most) risk.nonconforming += boost::math::cdf(boost::math::complement(truths, high));
  return risk;
}

}  // namespace eyelevel::metrology::population
