// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/type_b.hpp"

#include <fmt/format.h>

#include <cmath>

#include "core/base/error.hpp"

namespace eyelevel::metrology {

namespace {

[[noreturn]] void refuse(std::string message) { throw base::Error(base::ErrorCode::bad_input, std::move(message)); }

void require_not_negative(const std::string& source, const char* what, double value) {
  if (!(value >= 0) || !std::isfinite(value)) {
    refuse(fmt::format("\"{}\": {} is {}, expected 0 or more", source, what, value));
  }
}

Contribution bounded(std::string source, Shape shape, double half_width, double divisor, double sensitivity) {
  require_not_negative(source, "half-width", half_width);
  if (!std::isfinite(sensitivity)) refuse(fmt::format("\"{}\": sensitivity is {}", source, sensitivity));
  return {std::move(source), 'B', shape, sensitivity * half_width / divisor};
}

}  // namespace

Contribution rectangular(std::string source, double half_width, double sensitivity) {
  return bounded(std::move(source), Shape::rectangular, half_width, std::sqrt(3.0), sensitivity);
}

Contribution triangular(std::string source, double half_width, double sensitivity) {
  return bounded(std::move(source), Shape::triangular, half_width, std::sqrt(6.0), sensitivity);
}

Contribution arcsine(std::string source, double half_width, double sensitivity) {
  return bounded(std::move(source), Shape::arcsine, half_width, std::sqrt(2.0), sensitivity);
}

Contribution from_certificate(std::string source, double expanded_uncertainty, double coverage_factor,
                              double sensitivity) {
  if (!(coverage_factor > 0))
    refuse(fmt::format("\"{}\": coverage factor {}, expected above 0", source, coverage_factor));
  Contribution contribution =
      bounded(std::move(source), Shape::normal, expanded_uncertainty, coverage_factor, sensitivity);
  return contribution;
}

Contribution quantisation(std::string source, double step, double sensitivity) {
  return rectangular(std::move(source), step / 2, sensitivity);
}

double half_width_of(const MeterAccuracy& accuracy) {
  return accuracy.share_of_reading * std::abs(accuracy.reading) + accuracy.share_of_range * std::abs(accuracy.range);
}

std::vector<Contribution> multimeter(const std::string& source, const MeterAccuracy& accuracy, double sensitivity) {
  require_not_negative(source, "share of reading", accuracy.share_of_reading);
  require_not_negative(source, "share of range", accuracy.share_of_range);
  return {rectangular(source, half_width_of(accuracy), sensitivity),
          quantisation(source + ", display step", accuracy.display_step, sensitivity)};
}

Contribution height_by_eye(std::string source, double volts_per_division) {
  constexpr double half_width_divisions = 0.5;
  return triangular(std::move(source), half_width_divisions, volts_per_division);
}

double degrees_of_freedom_from_share(double share) {
  if (!(share > 0) || !std::isfinite(share)) {
    refuse(fmt::format("an uncertainty known to a share of {}, expected above 0", share));
  }
  return std::max(1.0, 1 / (2 * share * share));
}

}  // namespace eyelevel::metrology
