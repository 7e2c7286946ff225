// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/trend/regression.hpp"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/special_functions/binomial.hpp>
#include <cmath>
#include <limits>
#include <map>

#include "core/base/error.hpp"
#include "core/metrology/statistics.hpp"

namespace eyelevel::metrology::trend {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

[[noreturn]] void refuse(std::string message) { throw base::Error(base::ErrorCode::bad_input, std::move(message)); }

void require_column(std::span<const double> column, std::size_t length, std::string_view what) {
  if (column.size() != length) {
    refuse(fmt::format("{} holds {} values for {} of y: expected as many", what, column.size(), length));
  }
  const auto bad = std::find_if_not(column.begin(), column.end(), [](double v) { return std::isfinite(v); });
  if (bad != column.end()) {
    refuse(fmt::format("value {} of {} is {}, not a number", bad - column.begin(), what, *bad));
  }
}

void require_weights(std::span<const double> weights, std::size_t length) {
  if (weights.empty()) return;
  require_column(weights, length, "the list of weights");
  const auto bad = std::find_if_not(weights.begin(), weights.end(), [](double w) { return w > 0; });
  if (bad != weights.end()) {
    refuse(fmt::format("weight {} is {}, expected above 0", bad - weights.begin(), *bad));
  }
}

double tail_of_f(double f, double model_degrees, double residual_degrees) {
  if (std::isinf(f)) return 0;
  return boost::math::cdf(boost::math::complement(boost::math::fisher_f(model_degrees, residual_degrees), f));
}

double ratio_of_squares(double above, double below) {
  if (below > 0) return above / below;
  return above > 0 ? std::numeric_limits<double>::infinity() : 0;
}

// What is fitted: columns that are easy to tell apart, and the matrix that makes the coefficients asked for of theirs.
struct Basis {
  MatrixXd columns;
  MatrixXd back;
  bool has_constant = true;  // in the first column
};

// y minus what the columns give, in extended precision: the differences are what is left of numbers that cancel.
VectorXd residuals_of(const MatrixXd& columns, const VectorXd& y, const VectorXd& coefficients) {
  return (y.cast<long double>() - columns.cast<long double>() * coefficients.cast<long double>()).cast<double>();
}

AnalysisOfVariance variance_of(const VectorXd& projected, double residual_squares, const Basis& basis, Index count) {
  const Index coefficients = basis.columns.cols();
  const Index first = basis.has_constant ? 1 : 0;
  AnalysisOfVariance result;
  result.model_degrees = static_cast<double>(coefficients - first);
  result.residual_degrees = static_cast<double>(count - coefficients);
  result.model_squares = projected.segment(first, coefficients - first).squaredNorm();
  result.residual_squares = residual_squares;
  result.f = ratio_of_squares(result.model_squares / result.model_degrees, residual_squares / result.residual_degrees);
  result.p = tail_of_f(result.f, result.model_degrees, result.residual_degrees);
  return result;
}

Fit solve(const Basis& basis, std::span<const double> y_values, std::span<const double> weights) {
  const Index count = basis.columns.rows();
  const VectorXd y = Eigen::Map<const VectorXd>(y_values.data(), count);
  VectorXd root_weights = VectorXd::Ones(count);
  if (!weights.empty()) root_weights = Eigen::Map<const VectorXd>(weights.data(), count).cwiseSqrt();
  MatrixXd scaled = root_weights.asDiagonal() * basis.columns;
  const VectorXd norms = scaled.colwise().norm().cwiseMax(std::numeric_limits<double>::min());
  scaled *= norms.cwiseInverse().asDiagonal();
  const Eigen::HouseholderQR<MatrixXd> qr(scaled);
  const MatrixXd r = qr.matrixQR().topRows(scaled.cols()).triangularView<Eigen::Upper>();
  constexpr double least_own_part = 1e-12;  // of a column beside those before it
  for (Index j = 0; j < r.cols(); ++j) {
    if (!(std::abs(r(j, j)) > least_own_part)) {
      refuse(fmt::format("column {} of the {} that are fitted follows from those before it: they cannot be told apart",
                         j, r.cols()));
    }
  }
  const VectorXd weighted_y = root_weights.cwiseProduct(y);
  VectorXd coefficients = qr.solve(weighted_y);
  coefficients += qr.solve(residuals_of(scaled, weighted_y, coefficients));
  const VectorXd weighted_residuals = residuals_of(scaled, weighted_y, coefficients);

  Fit fit;
  fit.variance =
      variance_of(qr.householderQ().transpose() * weighted_y, weighted_residuals.squaredNorm(), basis, count);
  const AnalysisOfVariance& v = fit.variance;
  fit.residual_sd = std::sqrt(v.residual_squares / v.residual_degrees);
  const double all_squares = v.model_squares + v.residual_squares;
  fit.r_squared = all_squares > 0 ? v.model_squares / all_squares : 0;

  const MatrixXd back = basis.back * norms.cwiseInverse().asDiagonal();
  const VectorXd asked = (back.cast<long double>() * coefficients.cast<long double>()).cast<double>();
  const MatrixXd root = back * r.triangularView<Eigen::Upper>().solve(MatrixXd::Identity(r.rows(), r.cols()));
  const MatrixXd covariance = fit.residual_sd * fit.residual_sd * root * root.transpose();
  const VectorXd errors = fit.residual_sd * root.rowwise().norm();
  const VectorXd residuals = weighted_residuals.cwiseQuotient(root_weights);
  fit.coefficients.assign(asked.begin(), asked.end());
  fit.standard_errors.assign(errors.begin(), errors.end());
  fit.covariance.assign(covariance.data(), covariance.data() + covariance.size());  // symmetric: rows are columns
  fit.residuals.assign(residuals.begin(), residuals.end());
  return fit;
}

void require_enough(std::size_t values, std::size_t coefficients) {
  if (coefficients == 0) refuse("a fit of no columns: at least one, or a constant with one, is needed");
  if (values <= coefficients) {
    refuse(fmt::format("{} values for {} coefficients: expected at least one value more", values, coefficients));
  }
}

}  // namespace

Fit fit_columns(std::span<const double> y, std::span<const std::vector<double>> columns, Constant constant,
                std::span<const double> weights) {
  require_column(y, y.size(), "y");
  for (std::size_t j = 0; j < columns.size(); ++j) {
    require_column(columns[j], y.size(), fmt::format("column {} of x", j));
  }
  require_weights(weights, y.size());
  const bool has_constant = constant == Constant::fitted;
  if (columns.empty()) refuse("a fit of no columns: at least one is needed");
  require_enough(y.size(), columns.size() + (has_constant ? 1 : 0));
  const Index first = has_constant ? 1 : 0;
  const Index coefficients = static_cast<Index>(columns.size()) + first;
  Basis basis{MatrixXd::Ones(static_cast<Index>(y.size()), coefficients),
              MatrixXd::Identity(coefficients, coefficients), has_constant};
  for (std::size_t j = 0; j < columns.size(); ++j) {
    const Index at = static_cast<Index>(j) + first;
    basis.columns.col(at) = Eigen::Map<const VectorXd>(columns[j].data(), static_cast<Index>(y.size()));
    if (!has_constant) continue;
    const double mean = statistics(columns[j]).mean;
    basis.columns.col(at).array() -= mean;
    basis.back(0, at) = -mean;
  }
  return solve(basis, y, weights);
}

Fit fit_polynomial(std::span<const double> x, std::span<const double> y, std::size_t degree,
                   std::span<const double> weights) {
  require_column(y, y.size(), "y");
  require_column(x, y.size(), "x");
  require_weights(weights, y.size());
  if (degree == 0) refuse("a polynomial of degree 0: expected 1 or more; a constant is a mean");
  require_enough(y.size(), degree + 1);
  // Powers of t = (x - middle)/half, which lies within -1 and 1: powers of x itself soon resemble each other.
  const auto [least, most] = std::minmax_element(x.begin(), x.end());
  const double middle = *least + (*most - *least) / 2;
  const double half = *most > *least ? (*most - *least) / 2 : 1;
  const Index coefficients = static_cast<Index>(degree) + 1;
  const VectorXd t = (Eigen::Map<const VectorXd>(x.data(), static_cast<Index>(x.size())).array() - middle) / half;
  Basis basis{MatrixXd::Ones(t.size(), coefficients), MatrixXd::Zero(coefficients, coefficients), true};
  for (Index k = 0; k < coefficients; ++k) {
    if (k > 0) basis.columns.col(k) = basis.columns.col(k - 1).cwiseProduct(t);
    for (Index j = 0; j <= k; ++j) {
      const double ways = boost::math::binomial_coefficient<double>(static_cast<unsigned>(k), static_cast<unsigned>(j));
      basis.back(j, k) = ways * std::pow(-middle, static_cast<double>(k - j)) / std::pow(half, static_cast<double>(k));
    }
  }
  return solve(basis, y, weights);
}

std::optional<LackOfFit> lack_of_fit(std::span<const double> x, const Fit& fit) {
  require_column(x, fit.residuals.size(), "x");
  std::map<double, std::vector<double>> places;
  for (std::size_t i = 0; i < x.size(); ++i) places[x[i]].push_back(fit.residuals[i]);
  if (places.size() == x.size() || places.size() <= fit.coefficients.size()) return std::nullopt;
  double between = 0;
  double within = 0;
  for (const auto& [at, residuals] : places) {
    const Statistics s = statistics(residuals);
    between += static_cast<double>(s.count) * s.mean * s.mean;
    within += static_cast<double>(s.count - 1) * s.sd * s.sd;
  }
  LackOfFit result;
  result.model_degrees = static_cast<double>(places.size() - fit.coefficients.size());
  result.pure_degrees = static_cast<double>(x.size() - places.size());
  result.pure_sd = std::sqrt(within / result.pure_degrees);
  result.f = ratio_of_squares(between / result.model_degrees, within / result.pure_degrees);
  result.p = tail_of_f(result.f, result.model_degrees, result.pure_degrees);
  return result;
}

}  // namespace eyelevel::metrology::trend
