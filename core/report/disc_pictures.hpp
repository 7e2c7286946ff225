// SPDX-License-Identifier: Apache-2.0
// What `eyelevel analyse` draws of one record, each a whole file in PNG (96 dots per inch), SVG or PDF of the same
// drawing: eye, run lengths, jitter, envelope, block errors. Lands are blue dots, pits orange diamonds: told apart by
// shape, too. Values that are empty or no number are left out, and a picture without any says so. Pure functions.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/disc/analysis.hpp"
#include "core/disc/picture/eye_fold.hpp"
#include "core/disc/picture/low_high.hpp"
#include "core/disc/picture/run_spread.hpp"
#include "core/report/canvas.hpp"

namespace eyelevel::report {

// Block errors counted in equal stretches of time, one after the other.
struct ErrorBin {
  std::int64_t wrong = 0, words = 0;
};
struct ErrorStrip {
  double bin_s = 0;
  double words_per_s = 0;
  std::vector<ErrorBin> bins;
};

// The levels at which the 11T and 3T runs settle are not drawn: the density shows them.
std::string eye_density_picture(Format format, const disc::picture::EyeDensity& eye);

// One row for each length, lands above pits: mean with a bar of one standard deviation to either side, about the ideal
// length, and above it how the lengths spread, each as high as its peak allows. What lies outside the scale of 250 ns
// is put at its end, with an arrow.
std::string run_length_picture(Format format, const std::vector<disc::RunLengths>& runs,
                               const disc::picture::RunSpreads& spreads);

// Standard deviation of the length over the length, pits and lands.
std::string jitter_picture(Format format, const std::vector<disc::RunLengths>& runs);

std::string envelope_picture(Format format, const std::vector<disc::picture::LowHighPoint>& points);

// Rate in each stretch with its 95 % interval (Garwood), and a sentence below.
std::string error_picture(Format format, const ErrorStrip& strip);

}  // namespace eyelevel::report
