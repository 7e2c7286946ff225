// SPDX-License-Identifier: Apache-2.0
// A QR code (ISO/IEC 18004) on a sheet or label, which leads from the paper back to the record: it holds the run's
// name, as `eyelevel report` takes it and as a scanner types it at the page. The only place that knows libqrencode.
#pragma once

#include <string_view>

#include "core/report/canvas.hpp"

namespace eyelevel::report {

// Within the square of `size` mm whose upper left corner is at x, y; the quiet zone of four modules (clause 6.3.8)
// is inside it. Error correction level M: 15 % of it may be dirty. Throws Error(bad_input): too long a text.
void draw_code(Canvas& canvas, double x, double y, double size, std::string_view text);

}  // namespace eyelevel::report
