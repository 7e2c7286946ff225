// SPDX-License-Identifier: Apache-2.0
#include "core/report/canvas.hpp"

#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <cairo.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "core/base/error.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"

namespace eyelevel::report {

namespace {

constexpr double points_per_mm = 72 / 25.4;

cairo_status_t append(void* out, const unsigned char* data, unsigned length) {
  static_cast<std::string*>(out)->append(reinterpret_cast<const char*>(data), length);
  return CAIRO_STATUS_SUCCESS;
}

constexpr std::string_view blanks = " \n\t\r";

// Where the word that begins at `from` ends; a number and the unit after it are one word.
std::size_t end_of_word(std::string_view words, std::size_t from) {
  const std::size_t end = std::min(words.find_first_of(blanks, from), words.size());
  const bool is_number = words[end - 1] >= '0' && words[end - 1] <= '9';
  if (!is_number || end + 1 >= words.size() || words[end] != ' ') return end;
  const std::size_t after = std::min(words.find_first_of(blanks, end + 1), words.size());
  const std::string_view unit = words.substr(end + 1, after - end - 1);
  const auto is_letter = [](char c) { return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || c == '.'; };
  const bool is_unit = !unit.empty() && unit.size() <= 3 && std::all_of(unit.begin(), unit.end(), is_letter);
  return is_unit && unit != "of" && unit != "to" ? after : end;
}

struct FreeSurface {
  void operator()(cairo_surface_t* s) const { cairo_surface_destroy(s); }
};
struct FreeContext {
  void operator()(cairo_t* c) const { cairo_destroy(c); }
};
using Surface = std::unique_ptr<cairo_surface_t, FreeSurface>;

Surface surface_for(Format format, const Document& d, std::string* out) {
  const double width_pt = d.width_mm * points_per_mm;
  const double height_pt = d.height_mm * points_per_mm;
  switch (format) {
    case Format::pdf: {
      Surface pdf(cairo_pdf_surface_create_for_stream(append, out, width_pt, height_pt));
      // Cairo reads whole seconds only.
      const std::string time = record::utc_text(d.made).substr(0, 19) + "Z";
      cairo_pdf_surface_set_metadata(pdf.get(), CAIRO_PDF_METADATA_CREATE_DATE, time.c_str());
      cairo_pdf_surface_set_metadata(pdf.get(), CAIRO_PDF_METADATA_TITLE, d.title.c_str());
      return pdf;
    }
    case Format::svg: return Surface(cairo_svg_surface_create_for_stream(append, out, width_pt, height_pt));
    case Format::png: break;
  }
  const double dots_per_mm = d.png_dots_per_inch / 25.4;
  return Surface(cairo_image_surface_create(CAIRO_FORMAT_RGB24, static_cast<int>(std::lround(d.width_mm * dots_per_mm)),
                                            static_cast<int>(std::lround(d.height_mm * dots_per_mm))));
}

}  // namespace

struct Canvas::State {
  Format format;
  std::string bytes;
  Surface surface;
  std::unique_ptr<cairo_t, FreeContext> context;
  std::vector<std::string> written = {};

  cairo_t* c() const { return context.get(); }
  void use(Colour colour) const { cairo_set_source_rgb(c(), colour.red, colour.green, colour.blue); }
  void use(const Type& type) const {
    cairo_select_font_face(c(), "DejaVu Sans", CAIRO_FONT_SLANT_NORMAL,
                           type.bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
    cairo_set_font_size(c(), type.size_pt / points_per_mm);
    use(type.colour);
  }
  void rectangle(const Box& b) const { cairo_rectangle(c(), b.x, b.y, b.width, b.height); }
  void lines(const std::vector<Point>& points) const {
    cairo_new_path(c());
    for (const Point& p : points) cairo_line_to(c(), p.x, p.y);
  }
};

Canvas::Canvas(Format format, const Document& document) : state_(std::make_unique<State>()) {
  state_->format = format;
  state_->surface = surface_for(format, document, &state_->bytes);
  state_->context.reset(cairo_create(state_->surface.get()));
  const double scale = format == Format::png ? document.png_dots_per_inch / 25.4 : points_per_mm;
  cairo_scale(state_->c(), scale, scale);
  // Letters are placed alike on every kind of surface.
  cairo_font_options_t* options = cairo_font_options_create();
  cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
  cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
  cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
  cairo_set_font_options(state_->c(), options);
  cairo_font_options_destroy(options);
  state_->use(ink::paper);
  cairo_paint(state_->c());  // all of it: millimetres do not end where dots do
}

Canvas::~Canvas() = default;

double Canvas::width_of(std::string_view words, const Type& type) const {
  state_->use(type);
  cairo_text_extents_t extents;
  cairo_text_extents(state_->c(), record::clean_utf8(words).c_str(), &extents);
  return extents.x_advance;
}

void Canvas::text(double x, double y, std::string_view words, const Type& type) {
  const double width = type.align == Align::left ? 0 : width_of(words, type);
  state_->use(type);
  cairo_move_to(state_->c(), x - (type.align == Align::right ? width : type.align == Align::centre ? width / 2 : 0), y);
  cairo_show_text(state_->c(), state_->written.emplace_back(record::clean_utf8(words)).c_str());
}

const std::vector<std::string>& Canvas::written() const { return state_->written; }

std::string Canvas::fitted(std::string_view words, double width, const Type& type) const {
  std::string text = record::clean_utf8(words);
  std::replace_if(text.begin(), text.end(), [](char c) { return static_cast<unsigned char>(c) < ' '; }, ' ');
  if (width_of(text, type) <= width) return text;
  while (!text.empty() && width_of(text + "…", type) > width) {
    while (!text.empty() && (static_cast<unsigned char>(text.back()) & 0xC0U) == 0x80U) text.pop_back();
    if (!text.empty()) text.pop_back();
  }
  return text + "…";
}

std::vector<std::string> Canvas::wrapped(std::string_view words, double width, const Type& type) const {
  std::vector<std::string> lines;
  std::string line;
  std::size_t at = 0;
  while (at < words.size()) {
    const std::size_t from = words.find_first_not_of(blanks, at);
    if (from == std::string_view::npos) break;
    at = end_of_word(words, from);
    const std::string word(words.substr(from, at - from));
    std::string longer = line;
    if (!longer.empty()) longer += ' ';
    longer += word;
    if (width_of(longer, type) <= width) {
      line = std::move(longer);
      continue;
    }
    if (!line.empty()) lines.push_back(line);
    line = fitted(word, width, type);
  }
  if (!line.empty()) lines.push_back(line);
  return lines;
}

void Canvas::line(double x1, double y1, double x2, double y2, Colour colour, double width) {
  state_->use(colour);
  cairo_set_line_width(state_->c(), width);
  cairo_move_to(state_->c(), x1, y1);
  cairo_line_to(state_->c(), x2, y2);
  cairo_stroke(state_->c());
}

void Canvas::dashed(double x1, double y1, double x2, double y2, Colour colour, double width) {
  const double dashes[] = {1.2, 0.9};
  cairo_set_dash(state_->c(), dashes, 2, 0);
  line(x1, y1, x2, y2, colour, width);
  cairo_set_dash(state_->c(), nullptr, 0, 0);
}

void Canvas::fill(const Box& box, Colour colour) {
  state_->use(colour);
  state_->rectangle(box);
  cairo_fill(state_->c());
}

void Canvas::fill(const std::vector<Box>& boxes, Colour colour) {
  state_->use(colour);
  for (const Box& box : boxes) state_->rectangle(box);
  cairo_fill(state_->c());
}

void Canvas::area(const std::vector<Point>& outline, Colour colour) {
  state_->use(colour);
  state_->lines(outline);
  cairo_fill(state_->c());
}

void Canvas::path(const std::vector<Point>& points, Colour colour, double width) {
  state_->use(colour);
  cairo_set_line_width(state_->c(), width);
  state_->lines(points);
  cairo_stroke(state_->c());
}

void Canvas::outline(const Box& box, Colour colour, double width) {
  state_->use(colour);
  cairo_set_line_width(state_->c(), width);
  state_->rectangle(box);
  cairo_stroke(state_->c());
}

void Canvas::hatch(const Box& box, Colour colour, double spacing, double width) {
  cairo_save(state_->c());
  state_->rectangle(box);
  cairo_clip(state_->c());
  const double step = spacing * std::sqrt(2.0);
  // From a fixed grid of the sheet, so that neighbouring boxes join.
  const double first = std::floor((box.x + box.y) / step) * step;
  const int count = static_cast<int>(std::floor((box.right() + box.bottom() - first) / step));
  for (int i = 0; i <= count; ++i) {
    const double s = first + i * step;
    line(s - box.bottom(), box.bottom(), s - box.y, box.y, colour, width);
  }
  cairo_restore(state_->c());
}

void Canvas::steps(double x, double y, double height, const std::vector<double>& lengths, Colour colour) {
  state_->use(colour);
  cairo_move_to(state_->c(), x, y);
  for (const double length : lengths) {
    cairo_line_to(state_->c(), x + length, y);
    y += height;
    cairo_line_to(state_->c(), x + length, y);
  }
  cairo_line_to(state_->c(), x, y);
  cairo_close_path(state_->c());
  cairo_fill(state_->c());
}

void Canvas::dot(double x, double y, double radius, Colour colour) {
  state_->use(colour);
  cairo_new_sub_path(state_->c());
  cairo_arc(state_->c(), x, y, radius, 0, 2 * 3.14159265358979);
  cairo_fill(state_->c());
}

void Canvas::diamond(double x, double y, double radius, Colour colour) {
  state_->use(colour);
  cairo_set_line_width(state_->c(), 0.25);
  cairo_move_to(state_->c(), x - radius, y);
  cairo_line_to(state_->c(), x, y - radius);
  cairo_line_to(state_->c(), x + radius, y);
  cairo_line_to(state_->c(), x, y + radius);
  cairo_close_path(state_->c());
  cairo_stroke(state_->c());
}

void Canvas::picture(const Box& box, std::size_t columns, std::size_t rows, const std::vector<Colour>& pixels) {
  if (columns == 0 || rows == 0) return;
  const Surface image(
      cairo_image_surface_create(CAIRO_FORMAT_RGB24, static_cast<int>(columns), static_cast<int>(rows)));
  unsigned char* data = cairo_image_surface_get_data(image.get());
  const auto stride = static_cast<std::size_t>(cairo_image_surface_get_stride(image.get()));
  const auto byte = [](double v) { return static_cast<std::uint32_t>(std::lround(std::clamp(v, 0.0, 1.0) * 255)); };
  for (std::size_t row = 0; row < rows; ++row) {
    auto* out = reinterpret_cast<std::uint32_t*>(data + row * stride);
    for (std::size_t column = 0; column < columns; ++column) {
      const Colour& p = pixels[row * columns + column];
      out[column] = byte(p.red) << 16 | byte(p.green) << 8 | byte(p.blue);
    }
  }
  cairo_surface_mark_dirty(image.get());
  cairo_save(state_->c());
  state_->rectangle(box);
  cairo_clip(state_->c());
  cairo_translate(state_->c(), box.x, box.y);
  cairo_scale(state_->c(), box.width / static_cast<double>(columns), box.height / static_cast<double>(rows));
  cairo_set_source_surface(state_->c(), image.get(), 0, 0);
  cairo_pattern_set_filter(cairo_get_source(state_->c()), CAIRO_FILTER_BILINEAR);
  cairo_pattern_set_extend(cairo_get_source(state_->c()), CAIRO_EXTEND_PAD);
  cairo_paint(state_->c());
  cairo_restore(state_->c());
}

std::string Canvas::finish() {
  cairo_show_page(state_->c());
  cairo_status_t status = cairo_status(state_->c());
  if (status == CAIRO_STATUS_SUCCESS && state_->format == Format::png) {
    status = cairo_surface_write_to_png_stream(state_->surface.get(), append, &state_->bytes);
  }
  state_->context.reset();
  cairo_surface_finish(state_->surface.get());
  if (status == CAIRO_STATUS_SUCCESS) status = cairo_surface_status(state_->surface.get());
  if (status != CAIRO_STATUS_SUCCESS) {
    throw base::Error(base::ErrorCode::defect,
                      fmt::format("the sheet could not be drawn: {}", cairo_status_to_string(status)));
  }
  return std::move(state_->bytes);
}

// OKLab (B. Ottosson, 2020): lightness falls in even steps, the hue stays, chroma is largest in the middle.
Colour density_colour(double density) {
  const double d = std::clamp(density, 0.0, 1.0);
  const double lightness = 1.0 - 0.74 * d;
  const double chroma = 0.145 * std::sin(3.14159265358979 * std::min(1.0, 0.12 + 0.72 * d)) * std::min(1.0, d * 6);
  const double hue = 255 * 3.14159265358979 / 180;
  const double a = chroma * std::cos(hue);
  const double b = chroma * std::sin(hue);
  const double l = std::pow(lightness + 0.3963377774 * a + 0.2158037573 * b, 3);
  const double m = std::pow(lightness - 0.1055613458 * a - 0.0638541728 * b, 3);
  const double s = std::pow(lightness - 0.0894841775 * a - 1.2914855480 * b, 3);
  const auto companded = [](double linear) {
    const double v = std::clamp(linear, 0.0, 1.0);
    return v <= 0.0031308 ? 12.92 * v : 1.055 * std::pow(v, 1 / 2.4) - 0.055;
  };
  return {companded(4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s),
          companded(-1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s),
          companded(-0.0041960863 * l - 0.7034186147 * m + 1.7076147010 * s)};
}

}  // namespace eyelevel::report
