// SPDX-License-Identifier: Apache-2.0
#include "core/report/disc_pictures.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/disc/circ/error_rate.hpp"
#include "core/quantity/counted.hpp"
#include "core/report/plot.hpp"

namespace eyelevel::report {

namespace {

using Runs = std::vector<disc::RunLengths>;

// Room for numbers at the left, names at the right, words above and three lines of them below.
constexpr double width_mm = 160, below_mm = 24;
constexpr Box usual{20, 16, 118, 60}, tall{20, 16, 118, 90};
constexpr double length_scale_ns_most = 250;
constexpr double rate_most = 1e6;  // block errors per second; more than there are blocks at the fastest speeds

const Type number_type{8, false, ink::quiet, Align::right};
const Type name_type{8, false, ink::quiet, Align::centre};

Colour colour_of(bool is_land) { return is_land ? ink::blue : ink::orange; }

void mark(Canvas& canvas, double x, double y, bool is_land) {
  if (is_land)
    canvas.dot(x, y, 0.9, ink::blue);
  else
    canvas.diamond(x, y, 1.2, ink::orange);
}

bool is_value(const std::optional<double>& value) { return value && std::isfinite(*value); }

template <class Draw>
std::string drawn(Format format, const std::string& title, const Box& plot, Draw draw) {
  Document document;
  document.width_mm = width_mm;
  document.height_mm = plot.bottom() + below_mm;
  document.png_dots_per_inch = 96;
  document.title = title;
  Canvas canvas(format, document);
  canvas.text(plot.x, 9, title, {11, true});
  draw(canvas);
  return canvas.finish();
}

void say_instead(Canvas& canvas, const Box& plot, std::string_view words) {
  canvas.outline(plot, ink::hair, 0.2);
  canvas.text(plot.x + plot.width / 2, plot.y + plot.height / 2, words, name_type);
}

constexpr double caption_mm = 14, line_mm = 3.8;  // first base line below the plot, and from one to the next

void say_below(Canvas& canvas, const Box& plot, std::string_view words, int lines_above = 0) {
  double y = plot.bottom() + caption_mm + line_mm * lines_above;
  for (const std::string& line : canvas.wrapped(words, width_mm - plot.x - 6, {8})) {
    canvas.text(plot.x, y, line, {8});
    y += line_mm;
  }
}

void draw_upwards(Canvas& canvas, const Box& plot, const Axis& axis, std::string_view name) {
  const auto at = ticks(axis.low, axis.high, 6);
  const auto labels = tick_labels(at);
  for (std::size_t i = 0; i < at.size(); ++i) {
    canvas.line(plot.x, axis(at[i]), plot.right(), axis(at[i]), ink::hair, 0.12);
    canvas.text(plot.x - 1.6, axis(at[i]) + 1, labels[i], number_type);
  }
  Type type = name_type;
  type.align = Align::left;
  canvas.text(plot.x, plot.y - 2, name, type);
}

void draw_along(Canvas& canvas, const Box& plot, const Axis& axis, std::string_view name) {
  const auto at = ticks(axis.low, axis.high, 7);
  const auto labels = tick_labels(at);
  for (std::size_t i = 0; i < at.size(); ++i) {
    canvas.line(axis(at[i]), plot.bottom(), axis(at[i]), plot.bottom() + 1, ink::quiet, 0.2);
    canvas.text(axis(at[i]), plot.bottom() + 4.4, labels[i], name_type);
  }
  canvas.text(plot.x + plot.width / 2, plot.bottom() + 8.4, name, name_type);
}

void draw_key(Canvas& canvas, const Box& plot) {
  const double x = plot.right() + 3;
  mark(canvas, x, plot.y + 2, true);
  canvas.text(x + 2.5, plot.y + 3, "land", {8});
  mark(canvas, x, plot.y + 7, false);
  canvas.text(x + 2.5, plot.y + 8, "pit", {8});
}

// Half the width of the length scale: what has to be shown, up to the most.
double length_scale_ns(const Runs& runs, double deviations) {
  double most = 5;
  for (const disc::RunLengths& r : runs) {
    if (is_value(r.length_error_ns)) {
      most = std::max(most, std::abs(*r.length_error_ns) + (is_value(r.jitter_ns) ? deviations * *r.jitter_ns : 0));
    }
  }
  return std::min(1.1 * most, length_scale_ns_most);
}

// Counts with as many steps taken together as make a third of a standard deviation: finer, chance alone would show.
struct Histogram {
  double first_ns = 0, step_ns = 0;
  std::vector<double> counts;
};
Histogram merged(const disc::picture::LengthSpread& spread, double bit_ns, double jitter_ns) {
  using disc::picture::LengthSpread;
  const double fine_ns = bit_ns / LengthSpread::steps_per_bit;
  const double wanted = std::ceil(jitter_ns / 3 / fine_ns);
  const auto together = static_cast<std::size_t>(std::clamp(wanted, 1.0, 40.0));
  Histogram h{LengthSpread::start_bits(0) * bit_ns, fine_ns * static_cast<double>(together), {}};
  for (std::size_t i = 0; i < LengthSpread::steps; i += together) {
    double sum = 0;
    for (std::size_t k = i; k < std::min(i + together, LengthSpread::steps); ++k) sum += spread.counts[k];
    h.counts.push_back(sum);
  }
  return h;
}

// Stands on `base`, as high as `height` where most runs lie.
void draw_spread(Canvas& canvas, const Histogram& h, const Axis& ns, double base, double height, bool is_land) {
  const double peak = *std::max_element(h.counts.begin(), h.counts.end());
  if (!(peak > 0)) return;
  std::vector<Point> outline;
  const auto is_filled = [](double count) { return count > 0; };
  const auto first = std::find_if(h.counts.begin(), h.counts.end(), is_filled) - h.counts.begin();
  const auto end = h.counts.rend() - std::find_if(h.counts.rbegin(), h.counts.rend(), is_filled);
  for (auto i = static_cast<std::size_t>(first); i < static_cast<std::size_t>(end); ++i) {
    const double from = h.first_ns + h.step_ns * static_cast<double>(i), to = from + h.step_ns;
    if (to <= ns.low || from >= ns.high) continue;
    const double y = base - height * h.counts[i] / peak;
    if (outline.empty()) outline.push_back({ns(std::max(from, ns.low)), base});
    outline.push_back({ns(std::max(from, ns.low)), y});
    outline.push_back({ns(std::min(to, ns.high)), y});
  }
  if (outline.empty()) return;
  outline.push_back({outline.back().x, base});
  canvas.area(outline, is_land ? density_colour(0.14) : Colour{0.98, 0.89, 0.78});
  canvas.path(outline, colour_of(is_land), 0.15);
}

void draw_length(Canvas& canvas, const disc::RunLengths& r, const Axis& ns, double y) {
  const double mean = std::clamp(*r.length_error_ns, ns.low, ns.high);
  if (is_value(r.jitter_ns)) {
    const double low = std::clamp(*r.length_error_ns - *r.jitter_ns, ns.low, ns.high);
    const double high = std::clamp(*r.length_error_ns + *r.jitter_ns, ns.low, ns.high);
    canvas.line(ns(low), y, ns(high), y, colour_of(r.is_land), 0.5);
  }
  mark(canvas, ns(mean), y, r.is_land);
  if (mean != *r.length_error_ns) {
    const bool right = *r.length_error_ns > mean;
    canvas.text(ns(mean) + (right ? -2 : 2), y - 1, right ? "→" : "←",
                {8, false, ink::text, right ? Align::right : Align::left});
  }
}

void draw_rows(Canvas& canvas, const Box& plot) {
  const double row = plot.height / 9;
  canvas.outline(plot, ink::hair, 0.2);
  for (int t = 3; t <= 11; ++t) {
    const double top = plot.y + row * (t - 3);
    if (t > 3) canvas.line(plot.x, top, plot.right(), top, ink::hair, 0.12);
    canvas.text(plot.x - 1.6, top + row / 2 + 1, fmt::format("{}T", t), number_type);
  }
  canvas.text(width_mm - 2, plot.y - 2, "runs", number_type);
}

}  // namespace

std::string eye_density_picture(Format format, const disc::picture::EyeDensity& eye) {
  using disc::picture::EyeDensity;
  const Box plot = usual;
  return drawn(format, "The eye, laid upon itself at each edge", plot, [&](Canvas& canvas) {
    std::vector<std::uint64_t> filled;
    for (const auto count : eye.counts) {
      if (count > 0) filled.push_back(count);
    }
    if (filled.empty()) return say_instead(canvas, plot, "no edge was found");
    const auto place = filled.begin() + static_cast<std::ptrdiff_t>(filled.size() * 99 / 100);
    std::nth_element(filled.begin(), place, filled.end());
    const double dense = std::sqrt(static_cast<double>(*place));
    std::vector<Colour> pixels(EyeDensity::columns * eye.rows);
    for (std::size_t row = 0; row < eye.rows; ++row) {
      for (std::size_t column = 0; column < EyeDensity::columns; ++column) {
        const auto count = eye.counts[(eye.rows - 1 - row) * EyeDensity::columns + column];
        pixels[row * EyeDensity::columns + column] =
            density_colour(std::min(1.0, std::sqrt(static_cast<double>(count)) / dense));
      }
    }
    canvas.picture(plot, EyeDensity::columns, eye.rows, pixels);
    const Axis volts{eye.low_v, eye.high_v(), plot.bottom(), plot.y};
    const auto at = ticks(volts.low, volts.high, 6);
    const auto labels = tick_labels(at);
    for (std::size_t i = 0; i < at.size(); ++i) {
      canvas.line(plot.x - 1, volts(at[i]), plot.x, volts(at[i]), ink::quiet, 0.2);
      canvas.text(plot.x - 1.6, volts(at[i]) + 1, labels[i], number_type);
    }
    canvas.text(plot.x, plot.y - 2, "volts", {8, false, ink::quiet});
    canvas.outline(plot, ink::hair, 0.2);
    const Axis bits{-1.0 * EyeDensity::bits_before, 1.0 * EyeDensity::bits_after, plot.x, plot.right()};
    for (int t = 0; t <= 11; ++t) {
      if (t == 1 || t == 2) continue;  // no run is so short
      canvas.line(bits(t), plot.bottom(), bits(t), plot.bottom() + 1, ink::quiet, 0.2);
      canvas.text(bits(t), plot.bottom() + 4.4, t == 0 ? "edge" : fmt::format("{}T", t), name_type);
    }
    canvas.text(plot.x + plot.width / 2, plot.bottom() + 8.4, "where runs of each length end", name_type);
    say_below(canvas, plot,
              fmt::format("{} edges, both ways; the darker, the more often. At the pad, before the player's own "
                          "equaliser.",
                          eye.edges));
  });
}

std::string run_length_picture(Format format, const Runs& runs, const disc::picture::RunSpreads& spreads) {
  const Box plot = tall;
  return drawn(format, "Run lengths: how far from the ideal", plot, [&](Canvas& canvas) {
    const bool any = std::any_of(runs.begin(), runs.end(), [](const auto& r) { return is_value(r.length_error_ns); });
    if (!any) return say_instead(canvas, plot, "no run was measured");
    const bool is_spread = spreads.bit_ns > 0;
    const double half = length_scale_ns(runs, is_spread ? 3 : 1);
    const Axis ns{-half, half, plot.x, plot.right()};
    const double row = plot.height / 9, base = 0.4 * row, height = 0.34 * row;
    draw_rows(canvas, plot);
    const auto y_of = [&](const disc::RunLengths& r) {
      return plot.y + row * (r.t - 3) + base + (r.is_land ? 0 : row / 2);
    };
    Runs shown = runs;
    std::erase_if(shown, [](const auto& r) { return r.t < 3 || r.t > 11; });
    for (const disc::RunLengths& r : shown) {
      if (!is_spread || !is_value(r.jitter_ns)) continue;
      const auto& spread = spreads.of(static_cast<std::size_t>(r.t), r.is_land);
      draw_spread(canvas, merged(spread, spreads.bit_ns, *r.jitter_ns), ns, y_of(r), height, r.is_land);
    }
    canvas.text(ns(0), plot.y - 2, "ideal", name_type);
    canvas.dashed(ns(0), plot.y, ns(0), plot.bottom(), ink::text, 0.25);
    for (const disc::RunLengths& r : shown) {
      const Type count_type{6.5, false, colour_of(r.is_land), Align::right};
      canvas.text(width_mm - 2, y_of(r) + 0.2, canvas.fitted(fmt::format("{}", r.count), 18, count_type), count_type);
      if (is_value(r.length_error_ns)) draw_length(canvas, r, ns, y_of(r));
    }
    draw_along(canvas, plot, ns, "ns longer than ideal");
    const double y = plot.bottom() + caption_mm;
    mark(canvas, plot.x + 1, y - 1, true);
    canvas.text(plot.x + 4, y, "lands", {8});
    mark(canvas, plot.x + 21, y - 1, false);
    canvas.text(plot.x + 24, y, "pits; the bar is one standard deviation to either side.", {8});
    say_below(canvas, plot,
              is_spread ? "Above it how the lengths spread. At the pad, before the player's own "
                          "equaliser."
                        : "At the pad, before the player's own equaliser.",
              1);
  });
}

std::string jitter_picture(Format format, const Runs& runs) {
  const Box plot = usual;
  return drawn(format, "Jitter of each run length", plot, [&](Canvas& canvas) {
    double most = 0;
    for (const auto& r : runs) {
      if (is_value(r.jitter_ns)) most = std::max(most, *r.jitter_ns);
    }
    if (!(most > 0)) return say_instead(canvas, plot, "no jitter was measured");
    // Whole lengths along, from half a bit before the first to half a bit after the last.
    const Axis t_axis{2.5, 11.5, plot.x, plot.right()};
    const double top = std::min(1.1 * most, length_scale_ns_most);
    const Axis ns{0, top, plot.bottom(), plot.y};
    canvas.outline(plot, ink::hair, 0.2);
    draw_upwards(canvas, plot, ns, "ns, standard deviation");
    for (int t = 3; t <= 11; ++t) {
      canvas.text(t_axis(t), plot.bottom() + 4.4, fmt::format("{}T", t), name_type);
    }
    canvas.text(plot.x + plot.width / 2, plot.bottom() + 8.4, "run length", name_type);
    for (const auto& r : runs) {
      if (!is_value(r.jitter_ns)) continue;
      mark(canvas, t_axis(r.t + (r.is_land ? -0.12 : 0.12)), ns(std::min(*r.jitter_ns, top)), r.is_land);
    }
    draw_key(canvas, plot);
    say_below(canvas, plot,
              most > top ? "Some lie above the scale and are put at its end. At the pad, before the player's own "
                           "equaliser."
                         : "At the pad, before the player's own equaliser.");
  });
}

std::string envelope_picture(Format format, const std::vector<disc::picture::LowHighPoint>& points) {
  const Box plot = usual;
  return drawn(format, "Lowest and highest voltage over time", plot, [&](Canvas& canvas) {
    if (points.empty()) return say_instead(canvas, plot, "no sample was a number");
    double low = points.front().low_v, high = points.front().high_v;
    for (const auto& p : points) low = std::min(low, p.low_v), high = std::max(high, p.high_v);
    const double room = std::max(0.06 * (high - low), 1e-3);
    const Axis volts{low - room, high + room, plot.bottom(), plot.y};
    double step_s = points.size() > 1 ? points.back().start_s - points.front().start_s : 1e-6;
    for (std::size_t i = 1; i < points.size(); ++i) {  // where stretches were left out, the distance is a multiple
      step_s = std::min(step_s, points[i].start_s - points[i - 1].start_s);
    }
    const double end_ms = 1e3 * (points.back().start_s + step_s);
    const Axis ms{0, end_ms, plot.x, plot.right()};
    draw_upwards(canvas, plot, volts, "volts");
    std::vector<Box> stretches;
    for (const auto& p : points) {
      const double x = ms(1e3 * p.start_s), to = ms(1e3 * (p.start_s + step_s));
      stretches.push_back({x, volts(p.high_v), to - x, std::max(0.15, volts(p.low_v) - volts(p.high_v))});
    }
    canvas.fill(stretches, density_colour(0.35));
    canvas.outline(plot, ink::hair, 0.2);
    draw_along(canvas, plot, ms, "ms from the first sample");
  });
}

std::string error_picture(Format format, const ErrorStrip& strip) {
  const Box plot = usual;
  return drawn(format, "Block errors per second", plot, [&](Canvas& canvas) {
    std::int64_t wrong = 0, words = 0;
    double most = 1;
    struct Bar {
      double low, rate, high;
    };
    std::vector<std::optional<Bar>> bars;
    for (const ErrorBin& bin : strip.bins) {
      bars.emplace_back();
      if (bin.words <= 0 || bin.wrong < 0) continue;
      wrong += bin.wrong, words += bin.words;
      const auto interval = disc::circ::poisson_interval(bin.wrong);
      const double per_s = strip.words_per_s / static_cast<double>(bin.words);
      bars.back() = Bar{interval.low * per_s, static_cast<double>(bin.wrong) * per_s, interval.high * per_s};
      most = std::max(most, bars.back()->high);
    }
    if (words == 0 || !(strip.bin_s > 0) || !(strip.words_per_s > 0))
      return say_instead(canvas, plot, "no block was read");
    const double top = std::min(1.1 * most, rate_most);
    const Axis rate{0, top, plot.bottom(), plot.y};
    const double total_ms = 1e3 * strip.bin_s * static_cast<double>(bars.size());
    const Axis ms{0, total_ms, plot.x, plot.right()};
    draw_upwards(canvas, plot, rate, "per second");
    for (std::size_t i = 0; i < bars.size(); ++i) {
      if (!bars[i]) continue;
      const double x = ms(1e3 * strip.bin_s * static_cast<double>(i));
      const double width = plot.width / static_cast<double>(bars.size());
      const double high = rate(std::min(bars[i]->high, top)), low = rate(std::min(bars[i]->low, top));
      canvas.hatch({x, high, width, std::max(0.2, low - high)}, ink::blue, 1.8, 0.2);
      canvas.line(x, rate(std::min(bars[i]->rate, top)), x + width, rate(std::min(bars[i]->rate, top)), ink::orange,
                  0.7);
    }
    canvas.outline(plot, ink::hair, 0.2);
    draw_along(canvas, plot, ms, "ms of decoded blocks");
    const auto whole = disc::circ::poisson_interval(wrong);
    const double per_s = strip.words_per_s / static_cast<double>(words);
    say_below(canvas, plot,
              fmt::format("{} of {} had an error: {:.4g} per second, between {:.4g} and {:.4g} with 95 % if "
                          "errors come one by one. Line: counted; hatched: its interval.",
                          wrong, quantity::counted(words, "block"), static_cast<double>(wrong) * per_s,
                          whole.low * per_s, whole.high * per_s));
  });
}

}  // namespace eyelevel::report
