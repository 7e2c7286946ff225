// SPDX-License-Identifier: Apache-2.0
// The label that goes on the unit: whose it is, what was judged of it and when, and a code that leads back to the run.
// 62 mm by 29 mm, which label printers have on a roll (common practice); the same as PNG, SVG or PDF.
#pragma once

#include <string>

#include "core/record/run_record.hpp"
#include "core/report/canvas.hpp"

namespace eyelevel::report {

std::string draw_label(const record::RunRecord& run, Format format);

}  // namespace eyelevel::report
