// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/turning.hpp"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <boost/math/distributions/fisher_f.hpp>
#include <cmath>
#include <numbers>
#include <vector>

#include "core/base/error.hpp"
#include "core/metrology/statistics.hpp"

namespace eyelevel::metrology {

namespace {

constexpr std::size_t readings_least = 10;
constexpr double chance_most = 1e-3;
// A rate at which the moments of the readings hardly tell the swing from the mean is of no use: the mean would scatter
// by more than twice its share.
constexpr double variance_growth_most = 4;

// Parameters: mean, drift; with a swing also cosine and sine once and twice around.
struct Fit {
  double mean = 0;
  double left = 0;             // sum of squares
  double variance_growth = 0;  // of the mean against s^2/n
  Eigen::VectorXd parameters;
};

// Time from the middle of the span, in half spans: keeps the equations well conditioned.
class Series {
 public:
  Series(std::span<const double> times_s, std::span<const double> values)
      : times_(Eigen::Map<const Eigen::ArrayXd>(times_s.data(), std::ssize(times_s))),
        values_(Eigen::Map<const Eigen::VectorXd>(values.data(), std::ssize(values))),
        middle_s_((times_s.front() + times_s.back()) / 2),
        span_s_(times_s.back() - times_s.front()) {}

  double span_s() const { return span_s_; }
  double count() const { return static_cast<double>(values_.size()); }

  // Rate 0: without a swing.
  Eigen::MatrixXd design(double rate_hz) const {
    Eigen::MatrixXd x(values_.size(), rate_hz > 0 ? 6 : 2);
    x.col(0).setOnes();
    x.col(1) = ((times_ - middle_s_) * (2 / span_s_)).matrix();
    if (rate_hz > 0) {
      const Eigen::ArrayXd angle = (times_ - middle_s_) * (2 * std::numbers::pi * rate_hz);
      const Eigen::ArrayXd cosine = angle.cos(), sine = angle.sin();
      x.col(2) = cosine.matrix();
      x.col(3) = sine.matrix();
      x.col(4) = (2 * cosine * cosine - 1).matrix();
      x.col(5) = (2 * sine * cosine).matrix();
    }
    return x;
  }

  Fit fit(double rate_hz) const {
    const Eigen::MatrixXd x = design(rate_hz);
    const Eigen::LDLT<Eigen::MatrixXd> normal((x.transpose() * x).eval());
    Fit result;
    result.parameters = normal.solve(x.transpose() * values_);
    result.mean = result.parameters(0);
    result.left = (values_ - x * result.parameters).squaredNorm();
    const Eigen::VectorXd first = Eigen::VectorXd::Unit(x.cols(), 0);
    result.variance_growth = normal.solve(first)(0) * count();
    return result;
  }

  std::vector<double> residuals(double rate_hz, const Fit& fit) const {
    const Eigen::VectorXd left = values_ - design(rate_hz) * fit.parameters;
    return {left.begin(), left.end()};
  }

 private:
  Eigen::ArrayXd times_;
  Eigen::VectorXd values_;
  double middle_s_, span_s_;
};

struct Swing {
  double rate_hz = 0;
  Fit fit;
};

Swing best_of(const Series& series, double from_hz, double to_hz, double step_hz) {
  Swing best;
  best.fit.left = std::numeric_limits<double>::infinity();
  const int steps = static_cast<int>(std::floor((to_hz - from_hz) / step_hz * (1 + 1e-9)));
  for (int i = 0; i <= steps; ++i) {
    const double rate_hz = from_hz + i * step_hz;
    Fit fit = series.fit(rate_hz);
    if (fit.variance_growth > 0 && fit.variance_growth <= variance_growth_most && fit.left < best.fit.left)
      best = {rate_hz, std::move(fit)};
  }
  return best;
}

bool stands_out(const Series& series, const Swing& swing, const Fit& without, const TurnRates& rates) {
  if (!(swing.rate_hz > 0) || !(swing.fit.left < without.left)) return false;
  const double free = series.count() - 6;
  if (swing.fit.left == 0) return true;
  const double f = (without.left - swing.fit.left) / 4 / (swing.fit.left / free);
  const double tried = std::max(1.0, 2 * (rates.most_hz - rates.least_hz) * series.span_s());
  return boost::math::cdf(complement(boost::math::fisher_f(4, free), f)) * tried < chance_most;
}

MeanOfObservations mean_of(const Series& series, double rate_hz, const Fit& fit) {
  const auto left = series.residuals(rate_hz, fit);
  const double parameters = static_cast<double>(fit.parameters.size());
  MeanOfObservations mean;
  mean.value = fit.mean;
  mean.count = left.size();
  mean.effective_count = effective_count(left);
  mean.sd = std::sqrt(fit.left / (series.count() - parameters));
  mean.standard_uncertainty = mean.sd * std::sqrt(fit.variance_growth / mean.effective_count);
  mean.degrees_of_freedom = std::max(1.0, mean.effective_count - parameters);
  return mean;
}

}  // namespace

MeanOverTurns mean_over_turns(std::span<const double> times_s, std::span<const double> values, TurnRates rates) {
  if (times_s.size() != values.size())
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("{} times for {} values: expected as many", times_s.size(), values.size()));
  statistics(values);  // refuses what is not finite
  statistics(times_s);
  if (values.size() < readings_least || (times_s.back() - times_s.front()) * rates.least_hz < 1)
    return {.mean = mean_of_observations(values), .turns_per_s = {}};
  const Series series(times_s, values);
  const Fit without = series.fit(0);
  const double step_hz = 0.25 / series.span_s();  // a quarter of what the span can tell apart
  Swing swing = best_of(series, rates.least_hz, rates.most_hz, step_hz);
  if (!stands_out(series, swing, without, rates)) return {.mean = mean_of(series, 0, without), .turns_per_s = {}};
  swing = best_of(series, swing.rate_hz - step_hz, swing.rate_hz + step_hz, step_hz / 16);
  const Eigen::VectorXd& p = swing.fit.parameters;
  return {mean_of(series, swing.rate_hz, swing.fit), swing.rate_hz, std::hypot(p(2), p(3)), std::hypot(p(4), p(5))};
}

}  // namespace eyelevel::metrology
