// SPDX-License-Identifier: Apache-2.0
#include "core/report/plot.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/report/words.hpp"

namespace eyelevel::report {

namespace {

constexpr double label_width = 13;  // for the numbers of the volt axis
constexpr double names_width = 31;  // for the names of levels and limits
constexpr double foot_height = 8;   // for the numbers and the name of the time axis
constexpr int bits_shown = 4;       // channel bits across the eye picture

const Type axis_type{7, false, ink::quiet, Align::right};

void draw_frame(Canvas& canvas, const Box& box) { canvas.outline(box, ink::hair, 0.2); }

void draw_volt_axis(Canvas& canvas, const Box& box, const Axis& volts, int most) {
  const auto at = ticks(volts.low, volts.high, most);
  const auto labels = tick_labels(at);
  for (std::size_t i = 0; i < at.size(); ++i) {
    canvas.line(box.x - 1, volts(at[i]), box.x, volts(at[i]), ink::quiet, 0.2);
    canvas.text(box.x - 1.8, volts(at[i]) + 0.9, labels[i] + " V", axis_type);
  }
}

void draw_under(Canvas& canvas, const Box& box, const Axis& along, const std::vector<double>& at,
                const std::vector<std::string>& labels, const std::string& name) {
  Type type = axis_type;
  type.align = Align::centre;
  for (std::size_t i = 0; i < at.size(); ++i) {
    canvas.line(along(at[i]), box.bottom(), along(at[i]), box.bottom() + 1, ink::quiet, 0.2);
    canvas.text(along(at[i]), box.bottom() + 3.9, labels[i], type);
  }
  canvas.text(box.x + box.width / 2, box.bottom() + 7.2, name, type);
}

// The folded bit, side by side `bits_shown` times, top row first.
void draw_density(Canvas& canvas, const Box& box, const EyePicture& eye) {
  const double dense = std::sqrt(static_cast<double>(eye.dense_count()));
  const std::size_t width = eye.columns * bits_shown;
  std::vector<Colour> pixels(width * eye.rows);
  for (std::size_t row = 0; row < eye.rows; ++row) {
    for (std::size_t column = 0; column < width; ++column) {
      const double count = eye.at(eye.rows - 1 - row, column % eye.columns);
      pixels[row * width + column] = density_colour(std::sqrt(count) / dense);
    }
  }
  canvas.picture(box, width, eye.rows, pixels);
}

void draw_histogram(Canvas& canvas, const Box& box, const EyePicture& eye, const Axis& volts) {
  const auto most = *std::max_element(eye.histogram.begin(), eye.histogram.end());
  const double scale = most > 0 ? 0.94 * box.width / static_cast<double>(most) : 0;
  std::vector<double> lengths;
  for (auto count = eye.histogram.rbegin(); count != eye.histogram.rend(); ++count) {
    lengths.push_back(scale * static_cast<double>(*count));
  }
  canvas.steps(box.x, volts(eye.high_v()), std::abs(volts(eye.low_v + eye.step_v) - volts(eye.low_v)), lengths,
               density_colour(0.5));
}

// Names beside the eye must not lie upon each other: each is moved down just as far as needed.
struct Mark {
  double volts;
  std::string name;
};

void draw_marks(Canvas& canvas, const Box& eye, const Box& names, const Axis& volts, std::vector<Mark> marks) {
  std::sort(marks.begin(), marks.end(), [](const Mark& a, const Mark& b) { return a.volts > b.volts; });
  constexpr double line_height = 3.6;
  double free_from = names.y;
  for (const Mark& mark : marks) {
    const double y = volts(mark.volts);
    const double name_y = std::max(y, free_from);
    canvas.dashed(eye.x, y, eye.right(), y, ink::orange, 0.22);
    canvas.line(eye.right(), y, names.x + 3, name_y, ink::orange, 0.22);
    canvas.text(names.x + 4, name_y + 0.95, mark.name, {7.5, false, ink::text, Align::left});
    free_from = name_y + line_height;
  }
}

std::vector<Mark> marks_of(const EyeLevels& levels) {
  const auto named = [](const char* name, double v) { return Mark{v, fmt::format("{} {:.3f} V", name, v)}; };
  std::vector<Mark> marks{named("top", levels.top_v), named("bottom", levels.bottom_v)};
  if (levels.i3_low_v && levels.i3_high_v) {
    marks.push_back(named("3T up to", *levels.i3_high_v));
    marks.push_back(named("3T down to", *levels.i3_low_v));
  }
  return marks;
}

struct Band {
  double from_s, until_s;
  metrology::Limit limit;
};

// The limit of each level reading, over the time of the captures it was made from.
std::vector<Band> bands_of(const SheetContent& content) {
  std::vector<Band> bands;
  for (const auto& reading : content.run.readings) {
    if (!reading.limit || reading.unit != "V") continue;
    for (const std::string& input : reading.inputs) {
      Band band{HUGE_VAL, -HUGE_VAL, *reading.limit};
      for (const CaptureLevel& level : content.levels) {
        if (level.name != input) continue;
        band.from_s = std::min(band.from_s, level.time_s);
        band.until_s = std::max(band.until_s, level.time_s);
      }
      if (band.from_s <= band.until_s) bands.push_back(band);
    }
  }
  return bands;
}

struct Range {
  double low = HUGE_VAL, high = -HUGE_VAL;
  void take(const std::optional<double>& v) {
    if (v && std::isfinite(*v)) low = std::min(low, *v), high = std::max(high, *v);
  }
  bool is_empty() const { return !(low <= high); }
  void widen(double share, double least) {
    const double more = std::max((high - low) * share, least);
    low -= more, high += more;
  }
};

void draw_band(Canvas& canvas, const Box& box, const Band& band, const Axis& seconds, const Axis& volts) {
  const double high = std::min(band.limit.at_most.value_or(volts.high), volts.high);
  const double low = std::max(band.limit.at_least.value_or(volts.low), volts.low);
  const double left = std::max(seconds(band.from_s) - 3, box.x);
  const double right = std::min(seconds(band.until_s) + 3, box.right());
  canvas.hatch({left, volts(high), right - left, volts(low) - volts(high)}, density_colour(0.2), 1.6, 0.18);
  for (const auto& edge : {band.limit.at_most, band.limit.at_least}) {
    if (edge) canvas.line(left, volts(*edge), right, volts(*edge), ink::blue, 0.3);
  }
}

void draw_limit_names(Canvas& canvas, const Box& box, const Axis& volts, const std::vector<Band>& bands) {
  if (bands.empty()) return;
  const metrology::Limit& limit = bands.back().limit;
  const Type type{7.5, false, ink::text, Align::left};
  if (limit.at_most) {
    canvas.text(box.right() + 2, volts(*limit.at_most) + 0.95, "at most " + value_text(*limit.at_most, 0, "V"), type);
  }
  if (limit.at_least) {
    canvas.text(box.right() + 2, volts(*limit.at_least) + 0.95, "at least " + value_text(*limit.at_least, 0, "V"),
                type);
  }
}

// Where captures of different names stand side by side, each name stands above its first.
void draw_capture_names(Canvas& canvas, const Box& box, const Axis& seconds, const std::vector<CaptureLevel>& levels) {
  const auto differs = [&](const CaptureLevel& c) { return c.name != levels.front().name; };
  if (std::none_of(levels.begin(), levels.end(), differs)) return;
  double free_from = box.x;
  for (std::size_t i = 0; i < levels.size(); ++i) {
    if (i > 0 && levels[i].name == levels[i - 1].name) continue;
    const Type type{7, false, ink::quiet, Align::left};
    const double x = std::max(seconds(levels[i].time_s) - 0.7, free_from);
    if (x + canvas.width_of(levels[i].name, type) > box.right()) continue;
    canvas.text(x, box.y + 3, levels[i].name, type);
    free_from = x + canvas.width_of(levels[i].name, type) + 2;
  }
}

void say_instead(Canvas& canvas, const Box& box, const std::string& words) {
  canvas.text(box.x + box.width / 2, box.y + box.height / 2, words, {8.5, false, ink::quiet, Align::centre});
}

}  // namespace

std::vector<double> ticks(double low, double high, int most) {
  if (!(high > low) || most < 1) return {};
  const double rough = (high - low) / most;
  const double power = std::pow(10, std::floor(std::log10(rough)));
  double step = 10 * power;
  for (const double times : {1.0, 2.0, 5.0}) {
    if (times * power >= rough * (1 - 1e-9)) {
      step = times * power;
      break;
    }
  }
  std::vector<double> list;
  const double first = std::ceil(low / step - 1e-9);
  const double last = std::floor(high / step + 1e-9);
  for (double i = first; i <= last && list.size() < 100; ++i) list.push_back(i * step + 0.0);
  return list;
}

std::vector<std::string> tick_labels(const std::vector<double>& at) {
  const double step = at.size() > 1 ? at[1] - at[0] : 1;
  const int decimals = std::clamp(static_cast<int>(std::ceil(-std::log10(step) - 1e-9)), 0, 9);
  std::vector<std::string> labels;
  labels.reserve(at.size());
  for (const double v : at) labels.push_back(fmt::format("{:.{}f}", v == 0 ? 0.0 : v, decimals));
  return labels;
}

void draw_eye(Canvas& canvas, const Box& box, const SheetContent& content) {
  const double histogram_width = 0.2 * box.width;
  const Box eye_box{box.x + label_width, box.y, box.width - label_width - names_width - histogram_width,
                    box.height - foot_height};
  const Box names{eye_box.right(), box.y, names_width, eye_box.height};
  const Box histogram{names.right(), box.y, histogram_width, eye_box.height};
  if (!content.eye) {
    draw_frame(canvas, eye_box);
    say_instead(canvas, eye_box, "no samples are stored for this run");
    return;
  }
  const EyePicture& eye = *content.eye;
  const Axis volts{eye.low_v, eye.high_v(), eye_box.bottom(), eye_box.y};
  if (eye.folded > 0) {
    draw_density(canvas, eye_box, eye);
  } else {
    say_instead(canvas, eye_box, "no eye: no kept capture held a channel clock");
  }
  draw_frame(canvas, eye_box);
  draw_volt_axis(canvas, eye_box, volts, 10);
  if (eye.folded > 0) {
    std::vector<double> bits;
    std::vector<std::string> labels;
    for (int i = 0; i <= bits_shown; ++i) bits.push_back(i), labels.push_back(fmt::format("{} T", i));
    const std::string length =
        content.channel_bit_s ? fmt::format("channel bits; T = {:.1f} ns", *content.channel_bit_s * 1e9) : "";
    draw_under(canvas, eye_box, {0, bits_shown, eye_box.x, eye_box.right()}, bits, labels, length);
  }
  if (content.eye_levels) draw_marks(canvas, eye_box, names, volts, marks_of(*content.eye_levels));
  draw_histogram(canvas, histogram, eye, volts);
  canvas.line(histogram.x, histogram.y, histogram.x, histogram.bottom(), ink::quiet, 0.25);
  canvas.text(histogram.right(), histogram.bottom() + 3.9, "how often each", axis_type);
  canvas.text(histogram.right(), histogram.bottom() + 7.2, "voltage occurs", axis_type);
}

void draw_levels(Canvas& canvas, const Box& box, const SheetContent& given) {
  SheetContent numbered;
  const bool has_times = std::any_of(given.levels.begin(), given.levels.end(),
                                     [&](const CaptureLevel& c) { return c.time_s != given.levels.front().time_s; });
  if (!has_times) {  // all told at one moment: in their order, then
    numbered.run = given.run;
    numbered.levels = given.levels;
    for (std::size_t i = 0; i < numbered.levels.size(); ++i) numbered.levels[i].time_s = static_cast<double>(i);
  }
  const SheetContent& content = has_times ? given : numbered;
  const Box plot{box.x + label_width, box.y, box.width - label_width - names_width, box.height - foot_height};
  const auto bands = bands_of(content);
  Range time, level;
  for (const CaptureLevel& c : content.levels) {
    time.take(c.time_s);
    level.take(c.level_v);
  }
  if (level.is_empty()) {
    draw_frame(canvas, plot);
    say_instead(canvas, plot, "no capture held a level");
    return;
  }
  for (const Band& band : bands) level.take(band.limit.at_least), level.take(band.limit.at_most);
  const double begin_s = time.low;
  time.widen(0.02, 1e-3);
  level.widen(0.12, 1e-3);
  const Axis seconds{time.low, time.high, plot.x, plot.right()};
  const Axis volts{level.low, level.high, plot.bottom(), plot.y};
  for (const Band& band : bands) draw_band(canvas, plot, band, seconds, volts);
  draw_frame(canvas, plot);
  draw_volt_axis(canvas, plot, volts, 5);
  std::vector<double> at = ticks(time.low - begin_s, time.high - begin_s, 8);
  const auto labels = tick_labels(at);
  for (double& t : at) t += begin_s;
  draw_under(canvas, plot, seconds, at, labels,
             has_times ? "seconds since the first capture" : "captures in their order");
  for (const CaptureLevel& c : content.levels) {
    const double x = seconds(c.time_s);
    if (!c.level_v) {
      canvas.line(x, plot.bottom() - 1.6, x, plot.bottom(), ink::orange, 0.3);
    } else if (c.kept) {
      canvas.dot(x, volts(*c.level_v), 0.65, ink::blue);
    } else {
      canvas.diamond(x, volts(*c.level_v), 1.0, ink::orange);
    }
  }
  draw_limit_names(canvas, plot, volts, bands);
  draw_capture_names(canvas, plot, seconds, content.levels);
}

}  // namespace eyelevel::report
