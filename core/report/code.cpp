// SPDX-License-Identifier: Apache-2.0
#include "core/report/code.hpp"

#include <fmt/format.h>
#include <qrencode.h>

#include <memory>
#include <string>
#include <vector>

#include "core/base/error.hpp"

namespace eyelevel::report {

void draw_code(Canvas& canvas, double x, double y, double size, std::string_view text) {
  constexpr int quiet = 4;
  const std::unique_ptr<QRcode, decltype(&QRcode_free)> code(
      QRcode_encodeString8bit(std::string(text).c_str(), 0, QR_ECLEVEL_M), QRcode_free);
  if (!code)
    throw base::Error(base::ErrorCode::bad_input, fmt::format("\"{:.40}\" does not go into a code", text),
                      "a name of a run has a few letters");
  const double module = size / (code->width + 2 * quiet);
  std::vector<Box> dark;
  for (int row = 0; row < code->width; ++row)
    for (int column = 0; column < code->width; ++column)
      if ((code->data[row * code->width + column] & 1) != 0)
        dark.push_back({x + (column + quiet) * module, y + (row + quiet) * module, module, module});
  canvas.fill({x, y, size, size}, ink::paper);
  canvas.fill(dark, ink::text);
}

}  // namespace eyelevel::report
