// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/picture.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "core/record/journal/event_json.hpp"
#include "core/report/plot.hpp"
#include "core/report/words.hpp"
#include "core/report/workshop/sentences.hpp"

namespace eyelevel::report::workshop {

namespace {

constexpr double width_mm = 210, margin_mm = 20, panel_mm = 44, gap_mm = 17, head_mm = 18, line_mm = 4;

const Type number_type{7, false, ink::quiet, Align::right};
const Type quiet_type{8, false, ink::quiet, Align::left};

// Those that changed first, the check unit's before the units'.
std::vector<const Charted*> panels_of(const Workshop& workshop) {
  std::vector<const Charted*> list;
  for (const bool changed : {true, false})
    for (const auto* from : {&workshop.checks, &workshop.benches})
      for (const Charted& one : *from)
        if (one.charts && one.change.has_value() == changed) list.push_back(&one);
  if (list.size() > panels_most) list.resize(panels_most);
  return list;
}

// Through all points and limits, with a little room.
Axis axis_of(const Charted& one, const Box& box) {
  const auto& place = one.charts->individuals.limits.place;
  double low = place.low, high = place.high;
  for (const Point& point : one.series.points)
    low = std::min(low, point.deviation), high = std::max(high, point.deviation);
  const double room = 0.06 * (high - low);
  return {low - room, high + room, box.bottom(), box.y};
}

std::set<std::size_t> fired_points(const Charts& charts) {
  std::set<std::size_t> points;
  for (const Fired& fired : charts.individuals.fired) points.insert(fired.points.begin(), fired.points.end());
  return points;
}

void draw_limits(Canvas& canvas, const Box& box, const Charts& charts, const Axis& up) {
  const auto& place = charts.individuals.limits.place;
  canvas.hatch({box.x, box.y, box.width, up(place.high) - box.y}, ink::hair, 1.6);
  canvas.hatch({box.x, up(place.low), box.width, box.bottom() - up(place.low)}, ink::hair, 1.6);
  canvas.line(box.x, up(place.centre), box.right(), up(place.centre), ink::quiet, 0.25);
  canvas.dashed(box.x, up(place.high), box.right(), up(place.high), ink::quiet, 0.25);
  canvas.dashed(box.x, up(place.low), box.right(), up(place.low), ink::quiet, 0.25);
}

void draw_points(Canvas& canvas, const Box& box, const Charted& one, const Axis& up) {
  const std::size_t count = one.series.points.size();
  const Axis along{0.5, static_cast<double>(count) + 0.5, box.x, box.right()};
  const auto at = [&](std::size_t i) { return along(static_cast<double>(i) + 1); };
  std::vector<report::Point> line;
  for (std::size_t i = 0; i < count; ++i) line.push_back({at(i), up(one.charts->weighted->average[i])});
  canvas.path(line, ink::blue, 0.3);
  const auto fired = fired_points(*one.charts);
  for (std::size_t i = 0; i < count; ++i) {
    if (fired.contains(i))
      canvas.diamond(at(i), up(one.series.points[i].deviation), 1.1, ink::orange);
    else
      canvas.dot(at(i), up(one.series.points[i].deviation), 0.55, ink::blue);
  }
  if (!one.change) return;
  const double x = (at(one.change->after - 1) + at(one.change->after)) / 2;
  canvas.line(x, box.y, x, box.bottom(), ink::orange, 0.35);
  const bool is_right = x > box.x + box.width / 2;
  canvas.text(is_right ? x - 1 : x + 1, box.y + 3.4,
              fmt::format("changed, {}", record::utc_text(one.change->since).substr(0, 10)),
              {8, true, ink::text, is_right ? Align::right : Align::left});
}

void draw_axes(Canvas& canvas, const Box& box, const Charted& one, const Axis& up, const std::string& unit) {
  const auto at = ticks(up.low, up.high, 5);
  const auto labels = tick_labels(at);
  for (std::size_t i = 0; i < at.size(); ++i) canvas.text(box.x - 1.4, up(at[i]) + 0.9, labels[i], number_type);
  canvas.outline(box, ink::hair, 0.2);
  canvas.text(box.x, box.bottom() + 3.8, time_text(one.series.points.front().at), quiet_type);
  canvas.text(box.right(), box.bottom() + 3.8, time_text(one.series.points.back().at),
              {8, false, ink::quiet, Align::right});
  canvas.text(box.x + box.width / 2, box.bottom() + 3.8,
              fmt::format("{} readings, in the order taken; deviation in {}", one.series.points.size(),
                          unit == "1" ? "its own unit" : unit),
              {8, false, ink::quiet, Align::centre});
}

void draw_panel(Canvas& canvas, const Box& box, const Charted& one, const Workshop& workshop, bool is_check) {
  canvas.text(box.x, box.y - 2,
              is_check ? fmt::format("{}: check unit {}", one.series.bench, workshop.check_unit)
                       : fmt::format("{}: units of {}", one.series.bench, one.series.model),
              {9, true});
  const Axis up = axis_of(one, box);
  draw_limits(canvas, box, *one.charts, up);
  draw_points(canvas, box, one, up);
  draw_axes(canvas, box, one, up, workshop.unit);
}

std::vector<std::string> legend() {
  return {
      "Dot: a reading. Diamond: a reading at which a rule of the chart fired. Line: weighted average of the last ones. "
      "Hatched: beyond the limits of the first readings."};
}

}  // namespace

std::string chart_picture(Format format, const Workshop& workshop) {
  const auto panels = panels_of(workshop);
  Document document;
  document.width_mm = width_mm;
  document.title = workshop.reading + ": control charts";
  // The words are laid out on a page of their own first: how many lines they take decides how high this one is.
  Canvas trial(Format::svg, document);
  const double wide = width_mm - 2 * margin_mm;
  std::vector<std::string> lines;
  auto words = sentences(workshop);
  const auto below = legend();
  words.insert(words.end(), below.begin(), below.end());
  for (const std::string& sentence : words)
    for (const std::string& line : trial.wrapped(sentence, wide, {8})) lines.push_back(line);
  trial.finish();
  document.height_mm = head_mm + static_cast<double>(panels.size()) * (panel_mm + gap_mm) +
                       line_mm * (static_cast<double>(lines.size()) + 3);
  for (const Charted* one : panels) document.made = std::max(document.made, one->series.points.back().at);
  Canvas canvas(format, document);
  canvas.text(margin_mm, 10, document.title, {12, true});
  double y = head_mm + 3;
  for (const Charted* one : panels) {
    const bool is_check = workshop.checks.data() <= one && one < workshop.checks.data() + workshop.checks.size();
    draw_panel(canvas, {margin_mm, y, wide, panel_mm}, *one, workshop, is_check);
    y += panel_mm + gap_mm;
  }
  if (panels.empty()) {
    canvas.text(margin_mm, y, "No series is long enough for a chart.", {9});
    y += line_mm;
  }
  for (const std::string& line : lines) {
    canvas.text(margin_mm, y, line, {8});
    y += line_mm;
  }
  return canvas.finish();
}

}  // namespace eyelevel::report::workshop
