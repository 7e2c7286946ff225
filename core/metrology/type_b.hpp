// SPDX-License-Identifier: Apache-2.0
// Contributions from what is known otherwise than by repeating: data sheets, certificates, steps, the eye (GUM 4.3).
// `half_width` and the results' effects carry the unit of the reading; `sensitivity` (GUM 5.1.3) turns the quantity's
// own unit into it, with sign. Error(bad_input) on a width, step or factor that is negative or not finite.
#pragma once

#include <string>
#include <vector>

#include "core/metrology/reading.hpp"

namespace eyelevel::metrology {

// +-a and nothing more: a / sqrt 3 (GUM 4.3.7).
Contribution rectangular(std::string source, double half_width, double sensitivity = 1);
// Ends unlikely, or two equal rectangles added: a / sqrt 6 (GUM 4.3.9).
Contribution triangular(std::string source, double half_width, double sensitivity = 1);
// Sinusoidal +-a, such as a ripple or once around: a / sqrt 2.
Contribution arcsine(std::string source, double half_width, double sensitivity = 1);
// A certificate's expanded uncertainty and coverage factor: U / k (GUM 4.3.3).
Contribution from_certificate(std::string source, double expanded_uncertainty, double coverage_factor,
                              double sensitivity = 1);
// One step of a converter or of a display: rectangular, step / sqrt 12 (GUM F.2.2.1).
Contribution quantisation(std::string source, double step, double sensitivity = 1);

// A multimeter's accuracy: +-(share of the reading + share of the range), shares as fractions (0.05 % is 0.0005),
// rectangular, and the step of its display beside.
struct MeterAccuracy {
  double reading = 0;
  double range = 0;
  double share_of_reading = 0;
  double share_of_range = 0;
  double display_step = 0;
};

double half_width_of(const MeterAccuracy& accuracy);
// Two lines: the accuracy, whose error is the same in every reading of this meter on this range, under `source`; the
// display step under `source` + ", display step".
std::vector<Contribution> multimeter(const std::string& source, const MeterAccuracy& accuracy, double sensitivity = 1);

// A height read by eye on a screen as the difference of two edges, each to the nearest half division: both edges are
// off by up to a quarter, so the height has a triangular error of +-1/2 division, u = 0.204 divisions.
Contribution height_by_eye(std::string source, double volts_per_division);

// Degrees of freedom of an uncertainty that is itself known to a share (0.25 gives 8): 1/2 share^-2 (GUM G.4.2).
double degrees_of_freedom_from_share(double share);

}  // namespace eyelevel::metrology
