// SPDX-License-Identifier: Apache-2.0
// Linear least squares by Householder QR on centred and scaled columns, never by normal equations: NIST StRD linear
// sets come out with 8 digits where the columns nearly resemble each other and 12 or more elsewhere. Also whether a
// model fits readings that were repeated. Straight lines have more to offer in line.hpp. y and columns in the caller's
// units.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

namespace eyelevel::metrology::trend {

// Of y about its mean (about zero for a model without constant), split into what the model explains and the rest. With
// weights the squares are weighted ones.
struct AnalysisOfVariance {
  double model_degrees = 0, model_squares = 0;
  double residual_degrees = 0, residual_squares = 0;
  double f = 0;  // infinite where nothing is left over
  double p = 1;  // chance of such an F if the columns did nothing
};

struct Fit {
  std::vector<double> coefficients;     // the constant first, if there is one; then as the columns, or by power
  std::vector<double> standard_errors;  // with the residual standard deviation
  std::vector<double> covariance;       // of the coefficients, row by row
  std::vector<double> residuals;        // y minus fitted, not weighted
  double residual_sd = 0;               // sqrt(residual squares / degrees)
  double r_squared = 0;                 // share of the squares that the model explains
  AnalysisOfVariance variance;
};

enum class Constant { fitted, none };

// Columns as long as y. Weights: none, or one above 0 for each y (1/u^2). Error(bad_input): lengths that differ, not
// more values than coefficients, values that are not finite, columns of which one follows from the others.
Fit fit_columns(std::span<const double> y, std::span<const std::vector<double>> columns,
                Constant constant = Constant::fitted, std::span<const double> weights = {});

// Coefficients of 1, x, x^2 .. x^degree; degree 1 or more. Errors as above.
Fit fit_polynomial(std::span<const double> x, std::span<const double> y, std::size_t degree,
                   std::span<const double> weights = {});

struct LackOfFit {
  double model_degrees = 0;  // places minus coefficients
  double pure_degrees = 0;   // values minus places
  double pure_sd = 0;        // of repeated readings about their own mean
  double f = 0;              // infinite where repeated readings are equal and the model misses them
  double p = 1;              // chance of such an F if the model were right; small: the model is wrong
};

// For an unweighted fit over x: the readings' scatter about their means against the means' distance from the fit. None
// without repeated x, or with no more places than coefficients.
std::optional<LackOfFit> lack_of_fit(std::span<const double> x, const Fit& fit);

}  // namespace eyelevel::metrology::trend
