// SPDX-License-Identifier: Apache-2.0
#include "core/report/canvas.hpp"

#include <catch2/catch.hpp>

#include <cairo.h>

#include <algorithm>
#include <cstring>

using namespace eyelevel::report;

namespace {

// Rec. 709 luminance of an sRGB colour, 0 to 1.
double luminance(Colour c) {
  const auto linear = [](double v) { return v <= 0.04045 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4); };
  return 0.2126 * linear(c.red) + 0.7152 * linear(c.green) + 0.0722 * linear(c.blue);
}

std::string drawn(Format format) {
  Document d;
  d.width_mm = 50;
  d.height_mm = 20;
  d.title = "a test";
  Canvas c(format, d);
  c.text(5, 10, "1.20 V ± 0.02 V", {10, true});
  c.hatch({5, 12, 20, 5}, ink::orange);
  c.picture({30, 2, 10, 10}, 2, 2, {ink::blue, ink::paper, ink::paper, ink::blue});
  return c.finish();
}

}  // namespace

TEST_CASE("canvas: each format has its signature, and the same drawing gives the same bytes", "[report]") {
  const auto begins = [](const std::string& bytes, const char* signature) { return bytes.starts_with(signature); };
  CHECK(begins(drawn(Format::png), "\x89PNG"));
  CHECK(begins(drawn(Format::pdf), "%PDF-"));
  CHECK(drawn(Format::svg).find("<svg") != std::string::npos);
  for (const Format format : {Format::png, Format::pdf}) {
    const bool same = drawn(format) == drawn(format);  // not shown when they differ
    CHECK(same);
  }
}

TEST_CASE("canvas: paper reaches to the last dot, where a millimetre does not end on one", "[report]") {
  Document d;
  d.width_mm = 160;   // 604.7 dots
  d.height_mm = 100;  // 377.95
  d.png_dots_per_inch = 96;
  std::string png = Canvas(Format::png, d).finish();
  const auto read = [](void* from, unsigned char* out, unsigned length) {
    auto& bytes = *static_cast<std::string*>(from);
    if (bytes.size() < length) return CAIRO_STATUS_READ_ERROR;
    std::memcpy(out, bytes.data(), length);
    bytes.erase(0, length);
    return CAIRO_STATUS_SUCCESS;
  };
  cairo_surface_t* image = cairo_image_surface_create_from_png_stream(read, &png);
  REQUIRE(cairo_surface_status(image) == CAIRO_STATUS_SUCCESS);
  const int width = cairo_image_surface_get_width(image), height = cairo_image_surface_get_height(image);
  CHECK(width == 605);
  CHECK(height == 378);
  int tinted = 0;
  for (int y = 0; y < height; ++y) {
    const unsigned char* row = cairo_image_surface_get_data(image) + y * cairo_image_surface_get_stride(image);
    for (int x = 0; x < width; ++x) {
      const unsigned char* dot = row + 4 * x;  // blue, green, red and one unused, or the other way round
      tinted += std::count(dot, dot + 4, 255) < 3 ? 1 : 0;
    }
  }
  CHECK(tinted == 0);
  cairo_surface_destroy(image);
}

TEST_CASE("canvas: lines are wrapped at the width, and a number stays with its unit", "[report]") {
  const Canvas c(Format::png, {});
  const Type type{10, false};
  for (const double width : {30.0, 40.0, 50.0, 60.0, 80.0}) {
    CAPTURE(width);
    std::string joined;
    for (const auto& line : c.wrapped("level is 1.203 V ± 0.021 V, inside 1.08 V to 1.32 V.", width, type)) {
      CHECK(c.width_of(line, type) <= width);
      CHECK_FALSE((line.starts_with("V") || line.starts_with("V,")));
      joined += (joined.empty() ? "" : " ") + line;
    }
    CHECK(joined == "level is 1.203 V ± 0.021 V, inside 1.08 V to 1.32 V.");
  }
  CHECK(c.wrapped("  ", 50, type).empty());
}

TEST_CASE("canvas: text that is too wide is cut between characters, and says so", "[report]") {
  const Canvas c(Format::png, {});
  const Type type{10, false};
  CHECK(c.fitted("short", 50, type) == "short");
  const std::string cut = c.fitted("±±±±±±±±±±±±±±±±±±±±±±±±±±±±±±±±±±", 20, type);
  CHECK(c.width_of(cut, type) <= 20);
  CHECK_THAT(cut, Catch::StartsWith("±") && Catch::EndsWith("…"));
  CHECK(cut.size() % 2 == 1);  // two bytes each and three of the ellipsis: none was cut in half
  CHECK(c.fitted("a\nb", 50, type) == "a b");
}

// Even steps in CIE lightness: computed from the colours themselves, tolerance 1.2 of a step of 100 / 40 (gamut limits
// and 8-bit display leave that much).
TEST_CASE("density colours: darken evenly, so that the picture reads the same in grey", "[report]") {
  const auto lightness = [](double d) { return 116 * std::cbrt(luminance(density_colour(d))) - 16; };
  CHECK(lightness(0) == Approx(100).margin(0.5));
  const double step = (lightness(0) - lightness(1)) / 40;
  CHECK(step > 1.5);
  for (int i = 1; i <= 40; ++i) {
    const double fall = lightness((i - 1) / 40.0) - lightness(i / 40.0);
    CHECK(fall > 0);
    CHECK(fall == Approx(step).margin(1.2));
  }
}
