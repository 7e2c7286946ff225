// SPDX-License-Identifier: Apache-2.0
// A sheet of paper to draw on, in millimetres from its upper left corner; the same drawing becomes PNG, SVG or PDF. The
// only place that knows Cairo. Sizes of type in points. Output depends on the drawing alone, never on a clock.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/timeline.hpp"

namespace eyelevel::report {

enum class Format { png, svg, pdf };

struct Colour {
  double red = 0, green = 0, blue = 0;  // sRGB, 0 to 1
};

namespace ink {
inline constexpr Colour text{0.10, 0.14, 0.19};
inline constexpr Colour quiet{0.37, 0.42, 0.48};
inline constexpr Colour hair{0.78, 0.81, 0.84};
inline constexpr Colour blue{0.12, 0.36, 0.65};
inline constexpr Colour orange{0.85, 0.44, 0.04};
inline constexpr Colour paper{1, 1, 1};
}  // namespace ink

enum class Align { left, centre, right };

struct Type {
  double size_pt = 9;
  bool bold = false;
  Colour colour = ink::text;
  Align align = Align::left;
};

struct Box {
  double x = 0, y = 0, width = 0, height = 0;
  double right() const { return x + width; }
  double bottom() const { return y + height; }
};

struct Point {
  double x = 0, y = 0;
};

struct Document {
  double width_mm = 210;
  double height_mm = 297;
  double png_dots_per_inch = 150;
  std::string title;
  base::UtcTime made{};  // what a PDF says of its making: the run's time, not the drawing's
};

class Canvas {
 public:
  Canvas(Format format, const Document& document);
  Canvas(const Canvas&) = delete;
  Canvas& operator=(const Canvas&) = delete;
  ~Canvas();

  // `y` is the base line.
  void text(double x, double y, std::string_view words, const Type& type = {});
  double width_of(std::string_view words, const Type& type) const;
  // Cut with an ellipsis where it would be wider.
  std::string fitted(std::string_view words, double width, const Type& type) const;
  // Lines that fit; a word wider than a line is cut, a number is not parted from its unit.
  std::vector<std::string> wrapped(std::string_view words, double width, const Type& type) const;

  void line(double x1, double y1, double x2, double y2, Colour colour = ink::hair, double width = 0.2);
  void dashed(double x1, double y1, double x2, double y2, Colour colour, double width = 0.2);
  void fill(const Box& box, Colour colour);
  // As one shape: no seams where boxes touch.
  void fill(const std::vector<Box>& boxes, Colour colour);
  // The area within the outline, which is closed from the last point to the first; and a line along points.
  void area(const std::vector<Point>& outline, Colour colour);
  void path(const std::vector<Point>& points, Colour colour, double width = 0.2);
  void outline(const Box& box, Colour colour, double width = 0.25);
  // Diagonal lines within the box; `spacing` across them.
  void hatch(const Box& box, Colour colour, double spacing = 1.4, double width = 0.2);
  // The filled area from a vertical line at `x` to a stepped edge: one length for each of the equal heights, top first.
  void steps(double x, double y, double height, const std::vector<double>& lengths, Colour colour);
  void dot(double x, double y, double radius, Colour colour);
  void diamond(double x, double y, double radius, Colour colour);
  // Pixels row by row from the top, stretched smoothly over the box.
  void picture(const Box& box, std::size_t columns, std::size_t rows, const std::vector<Colour>& pixels);

  // Everything that was written so far, in that order: a drawing cannot be searched.
  const std::vector<std::string>& written() const;

  // Ends the drawing and gives the file. Throws Error(defect) with Cairo's reason.
  std::string finish();

 private:
  struct State;
  std::unique_ptr<State> state_;
};

// Blue of even lightness steps from paper (0) to dark (1): OKLab with one hue, so that it reads the same in grey.
Colour density_colour(double density);

}  // namespace eyelevel::report
