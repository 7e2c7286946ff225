// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/trend/weibull.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <limits>
#include <set>
#include <vector>

#include "core/base/error.hpp"

namespace eyelevel::metrology::trend {

namespace {

[[noreturn]] void refuse(std::string message) { throw base::Error(base::ErrorCode::bad_input, std::move(message)); }

constexpr double farthest = 1e6;  // shape, and scale over the longest time: beyond it there is no end

// Root between a and b, at which f has different signs.
template <typename F>
double root_between(F f, double a, double b) {
  const double at_a = f(a);
  const double at_b = f(b);
  if (at_a == 0) return a;
  if (at_b == 0) return b;
  std::uintmax_t steps = 200;
  const auto [low, high] =
      boost::math::tools::toms748_solve(f, a, b, at_a, at_b, boost::math::tools::eps_tolerance<double>(50), steps);
  return low + (high - low) / 2;
}

// The likelihood in logarithms of hours over the longest hours, so that powers stay below 1.
class Likelihood {
 public:
  explicit Likelihood(std::span<const Lived> lives) {
    longest_ = std::max_element(lives.begin(), lives.end(), [](const Lived& a, const Lived& b) {
                 return a.hours < b.hours;
               })->hours;
    for (const Lived& life : lives) {
      logarithms_.push_back(std::log(life.hours / longest_));
      if (!life.failed) continue;
      ++failed_;
      sum_failed_ += logarithms_.back();
    }
  }

  double longest() const { return longest_; }
  double failed() const { return failed_; }

  // Sum over all units of (t/longest)^shape, times ln(t/longest)^order.
  double power_sum(double shape, int order) const {
    double sum = 0;
    for (const double l : logarithms_) sum += std::exp(shape * l) * (order == 0 ? 1 : l);
    return sum;
  }

  // ln of the scale, over the longest hours, that is likeliest at this shape.
  double log_scale_at(double shape) const { return std::log(power_sum(shape, 0) / failed_) / shape; }

  double at(double shape, double log_scale) const {
    return failed_ * (std::log(shape) - shape * log_scale) + (shape - 1) * sum_failed_ -
           std::exp(-shape * log_scale) * power_sum(shape, 0);
  }

  // Rises with the shape; 0 where shape and scale are likeliest.
  double shape_equation(double shape) const {
    return power_sum(shape, 1) / power_sum(shape, 0) - 1 / shape - sum_failed_ / failed_;
  }

  // Shape that is likeliest at this scale: the derivative falls with the shape.
  double shape_at(double log_scale) const {
    const auto derivative = [&](double shape) {
      double sum = 0;
      for (const double l : logarithms_) sum += std::exp(shape * (l - log_scale)) * (l - log_scale);
      return failed_ / shape - failed_ * log_scale + sum_failed_ - sum;
    };
    double low = 1;
    while (derivative(low) < 0) low /= 2;
    double high = 2 * low;
    while (derivative(high) > 0) high *= 2;
    return root_between(derivative, low, high);
  }

 private:
  std::vector<double> logarithms_;
  double longest_ = 0, failed_ = 0, sum_failed_ = 0;
};

double best_shape(const Likelihood& likelihood) {
  const auto equation = [&](double shape) { return likelihood.shape_equation(shape); };
  double low = 1;
  while (equation(low) > 0) low /= 2;
  double high = 2 * low;
  while (equation(high) < 0) high *= 2;
  return root_between(equation, low, high);
}

// Both sides of the best logarithm at which the profile has fallen by `allowed`.
template <typename Profile>
Range fallen_by(Profile profile, double best, double allowed, double most) {
  const double top = profile(best);
  const auto left = [&](double at) { return profile(at) - top + allowed; };
  const auto end = [&](double direction) {
    double near = best;
    double step = 0.1;
    while (true) {
      const double far = near + direction * step;
      if (std::abs(far - best) > most) return direction * std::numeric_limits<double>::infinity();
      if (left(far) < 0) return root_between(left, std::min(near, far), std::max(near, far));
      near = far;
      step *= 2;
    }
  };
  return {std::exp(end(-1)), std::exp(end(1))};
}

void require_usable(std::span<const Lived> lives, double probability) {
  if (!(probability > 0 && probability < 1))
    refuse(fmt::format("probability {}, expected between 0 and 1", probability));
  std::set<double> failures;
  for (std::size_t i = 0; i < lives.size(); ++i) {
    if (!(lives[i].hours > 0) || !std::isfinite(lives[i].hours)) {
      refuse(fmt::format("unit {} lived {} hours, expected above 0", i, lives[i].hours));
    }
    if (lives[i].failed) failures.insert(lives[i].hours);
  }
  if (failures.size() < 2) {
    refuse(fmt::format("failures at {} different times among {} units: two are the least that have a spread",
                       failures.size(), lives.size()));
  }
}

}  // namespace

double Weibull::survival(double hours) const { return hours > 0 ? std::exp(-std::pow(hours / scale, shape)) : 1; }

double Weibull::hours_until(double share_failed) const {
  if (!(share_failed >= 0 && share_failed < 1)) refuse(fmt::format("share {} failed, expected 0 to 1", share_failed));
  return scale * std::pow(-std::log1p(-share_failed), 1 / shape);
}

Weibull weibull_of(std::span<const Lived> lives, double probability) {
  require_usable(lives, probability);
  const Likelihood likelihood(lives);
  Weibull result;
  result.count = lives.size();
  result.failed = static_cast<std::size_t>(likelihood.failed());
  result.probability = probability;
  result.shape = best_shape(likelihood);
  const double log_scale = likelihood.log_scale_at(result.shape);
  const double log_longest = std::log(likelihood.longest());
  result.scale = std::exp(log_scale + log_longest);
  result.log_likelihood = likelihood.at(result.shape, log_scale) - likelihood.failed() * log_longest;

  const double allowed = boost::math::quantile(boost::math::chi_squared(1), probability) / 2;
  const auto over_shape = [&](double log_shape) {
    const double shape = std::exp(log_shape);
    return likelihood.at(shape, likelihood.log_scale_at(shape));
  };
  const auto over_scale = [&](double at) { return likelihood.at(likelihood.shape_at(at), at); };
  result.shape_range = fallen_by(over_shape, std::log(result.shape), allowed, std::log(farthest));
  result.scale_range = fallen_by(over_scale, log_scale, allowed, std::log(farthest));
  result.scale_range.low *= likelihood.longest();
  result.scale_range.high *= likelihood.longest();
  return result;
}

}  // namespace eyelevel::metrology::trend
