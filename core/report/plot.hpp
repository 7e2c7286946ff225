// SPDX-License-Identifier: Apache-2.0
// The pictures of a sheet, each drawn into a box: eye, histogram beside it on the same volt axis, level of each capture
// over time. Blue, orange and hatching; never red beside green.
#pragma once

#include <string>
#include <vector>

#include "core/report/canvas.hpp"
#include "core/report/sheet_content.hpp"

namespace eyelevel::report {

// From a value to a place on the paper.
struct Axis {
  double low = 0, high = 1;        // values
  double at_low = 0, at_high = 1;  // millimetres
  double operator()(double value) const { return at_low + (value - low) / (high - low) * (at_high - at_low); }
};

// Round values (1, 2 or 5 times a power of ten) within the range, at most `most` of them.
std::vector<double> ticks(double low, double high, int most);
// All with the same number of decimals, as many as their distance needs.
std::vector<std::string> tick_labels(const std::vector<double>& ticks);

// The box holds the axis labels, the eye, the names of the levels and the histogram.
void draw_eye(Canvas& canvas, const Box& box, const SheetContent& content);

// Levels in volts over seconds since the first capture, with the band of each limit hatched.
void draw_levels(Canvas& canvas, const Box& box, const SheetContent& content);

}  // namespace eyelevel::report
