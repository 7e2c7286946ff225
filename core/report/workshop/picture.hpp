// SPDX-License-Identifier: Apache-2.0
// The control charts of a reading as one picture: for each model and bench the deviation of every reading (blue dots;
// orange diamonds where a rule fired), the limits with what lies beyond them hatched, the weighted average as a line,
// and where a change was found in words. Told apart by shape and words, too, so that it can be read in grey.
#pragma once

#include <string>

#include "core/report/canvas.hpp"
#include "core/report/workshop/workshop.hpp"

namespace eyelevel::report::workshop {

inline constexpr std::size_t panels_most = 12;  // of a picture; those with a change first

std::string chart_picture(Format format, const Workshop& workshop);

}  // namespace eyelevel::report::workshop
