// SPDX-License-Identifier: Apache-2.0
#include "core/report/code.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "core/report/export.hpp"
#include "tests/support/read_code.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace eyelevel;
using namespace eyelevel::report;

namespace {

std::string drawn(double size_mm, std::string_view text) {
  Canvas canvas(Format::png, {.width_mm = 30, .height_mm = 30, .png_dots_per_inch = 200, .title = "code"});
  draw_code(canvas, 2, 2, size_mm, text);
  return canvas.finish();
}

}  // namespace

TEST_CASE("code: a reader that nobody here wrote reads what was written", "[report]") {
  const test::TemporaryFolder folder;
  for (const double size_mm : {12.0, 26.0}) {
    INFO(size_mm << " mm");
    write_file(folder / "code.png", drawn(size_mm, "2030-01-07-3"));
    CHECK(test::read_code(folder / "code.png") == "2030-01-07-3");
  }
}

TEST_CASE("code: what does not go into one is refused", "[report]") {
  CHECK_THROWS_AS(drawn(26, std::string(5000, 'x')), base::Error);
}
