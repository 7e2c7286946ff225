// SPDX-License-Identifier: Apache-2.0
// No two labels of a picture overlap and none is cut by the end of the sheet, read from the SVG itself: Cairo draws
// each label as a group of letters, and each letter as a shape whose corners say how far its ink reaches.
#include <catch2/catch.hpp>
#include <charconv>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <string>
#include <vector>

#include "core/report/disc_pictures.hpp"
#include "tests/support/number.hpp"

using namespace eyelevel;
using namespace eyelevel::report;

namespace {

using Runs = std::vector<disc::RunLengths>;
using Points = std::vector<disc::picture::LowHighPoint>;

struct Ink {
  double left = 1e9, top = 1e9, right = -1e9, bottom = -1e9;

  bool any() const { return left <= right; }
  void add(double x, double y) {
    left = std::min(left, x), right = std::max(right, x);
    top = std::min(top, y), bottom = std::max(bottom, y);
  }
};

bool overlap(const Ink& a, const Ink& b) {
  return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
}

std::string between(const std::string& text, std::size_t from, const std::string& begin, const std::string& end) {
  const std::size_t at = text.find(begin, from);
  if (at == std::string::npos) return {};
  const std::size_t first = at + begin.size();
  return text.substr(first, text.find(end, first) - first);
}

// Corners and control points of a path, which enclose it.
Ink reach_of(const std::string& path) {
  Ink ink;
  std::vector<double> numbers;
  const char* const end = path.data() + path.size();
  for (const char* at = path.data(); at != end;) {
    double value = 0;
    const auto read = std::from_chars(at, end, value);
    if (read.ec == std::errc()) numbers.push_back(value);
    at = read.ec == std::errc() ? read.ptr : at + 1;
  }
  for (std::size_t i = 0; i + 1 < numbers.size(); i += 2) ink.add(numbers[i], numbers[i + 1]);
  return ink;
}

struct Labels {
  std::vector<Ink> list;
  double width = 0, height = 0;  // of the sheet; points, as all
};

Labels labels_of(const std::string& svg) {
  std::map<std::string, Ink> letters;
  for (std::size_t at = svg.find("<symbol"); at != std::string::npos; at = svg.find("<symbol", at + 1)) {
    letters[between(svg, at, "id=\"", "\"")] = reach_of(between(svg, at, " d=\"", "\""));
  }
  Labels labels;
  labels.width = test::point_number(between(svg, 0, "width=\"", "pt\""));
  labels.height = test::point_number(between(svg, 0, "height=\"", "pt\""));
  for (std::size_t at = svg.find("<g style"); at != std::string::npos; at = svg.find("<g style", at + 1)) {
    const std::string group = svg.substr(at, svg.find("</g>", at) - at);
    Ink ink;
    for (std::size_t use = group.find("<use"); use != std::string::npos; use = group.find("<use", use + 1)) {
      const Ink& letter = letters.at(between(group, use, "\"#", "\""));
      if (!letter.any()) continue;  // a blank
      const double x = test::point_number(between(group, use, " x=\"", "\"")),
                   y = test::point_number(between(group, use, " y=\"", "\""));
      ink.add(x + letter.left, y + letter.top);
      ink.add(x + letter.right, y + letter.bottom);
    }
    if (ink.any()) labels.list.push_back(ink);
  }
  return labels;
}

void check_labels(const std::string& svg, std::size_t least) {
  const Labels labels = labels_of(svg);
  CHECK(labels.list.size() >= least);
  int cut = 0, overlapping = 0;
  for (std::size_t i = 0; i < labels.list.size(); ++i) {
    const Ink& a = labels.list[i];
    if (a.left < 0 || a.top < 0 || a.right > labels.width || a.bottom > labels.height) {
      ++cut;
      UNSCOPED_INFO("cut: number " << i << " at " << a.left << ", " << a.top << " to " << a.right << ", " << a.bottom);
    }
    for (std::size_t k = i + 1; k < labels.list.size(); ++k) {
      if (!overlap(a, labels.list[k])) continue;
      ++overlapping;
      UNSCOPED_INFO("overlap: numbers " << i << " and " << k << " at " << a.left << ", " << a.top);
    }
  }
  CHECK(cut == 0);
  CHECK(overlapping == 0);
}

Runs rows(double error_ns, double jitter_ns, std::int64_t count) {
  Runs all;
  for (int t = 3; t <= 11; ++t) {
    for (const bool is_land : {false, true}) {
      disc::RunLengths r;
      r.t = t, r.is_land = is_land, r.count = count;
      r.length_error_ns = is_land ? error_ns : -error_ns;
      r.jitter_ns = jitter_ns;
      all.push_back(r);
    }
  }
  return all;
}

disc::picture::EyeDensity eye_of(double low_v, double high_v, std::uint64_t edges) {
  disc::picture::EyeDensity eye;
  eye.rows = 100;
  eye.low_v = low_v;
  eye.step_v = (high_v - low_v) / 100;
  eye.counts.assign(eye.rows * disc::picture::EyeDensity::columns, 3);
  eye.edges = edges;
  return eye;
}

disc::picture::RunSpreads spreads() {
  disc::picture::RunSpreads all;
  all.bit_ns = 231;
  for (auto* groups : {&all.pits, &all.lands})
    for (auto& spread : *groups) spread.counts.fill(7);
  return all;
}

constexpr std::int64_t few = 12, most = 5'000'000'000;  // some runs; those of a whole disc

}  // namespace

TEST_CASE("labels: the reader of labels finds them, and those that overlap or are cut", "[report]") {
  Document sheet;
  sheet.width_mm = 60;
  sheet.height_mm = 20;
  const auto drawn = [&](double x, double y) {
    Canvas canvas(Format::svg, sheet);
    canvas.text(5, 10, "3T", {8});
    canvas.text(x, y, "4T", {8});
    return labels_of(canvas.finish());
  };
  const Labels apart = drawn(30, 10), over = drawn(6, 11), cut = drawn(58.5, 10);
  REQUIRE(apart.list.size() == 2);
  CHECK(apart.width == Approx(60 / 25.4 * 72).margin(0.01));
  CHECK_FALSE(overlap(apart.list[0], apart.list[1]));
  // Figures of DejaVu Sans are 0.73 of the size high and stand on the base line.
  CHECK(apart.list[0].bottom == Approx(10 / 25.4 * 72).margin(0.2));
  CHECK(apart.list[0].bottom - apart.list[0].top == Approx(0.74 * 8).margin(0.3));
  CHECK(overlap(over.list[0], over.list[1]));
  CHECK(cut.list[1].right > cut.width);
}

TEST_CASE("labels: those of run lengths and jitter keep apart and on the sheet, whatever the figures", "[report]") {
  for (const double error_ns : {0.0, 3.7, 81.0, 1e5}) {
    for (const double jitter_ns : {0.02, 11.3, 240.0, 1e6}) {
      for (const std::int64_t count : {few, most}) {
        CAPTURE(error_ns, jitter_ns, count);
        const Runs runs = rows(error_ns, jitter_ns, count);
        check_labels(run_length_picture(Format::svg, runs, spreads()), 9 + 18 + 8);
        check_labels(run_length_picture(Format::svg, runs, {}), 9 + 18 + 8);
        check_labels(jitter_picture(Format::svg, runs), 9 + 6);
      }
    }
  }
  check_labels(run_length_picture(Format::svg, {}, {}), 2);
  check_labels(jitter_picture(Format::svg, {}), 2);
}

TEST_CASE("labels: those of eye and envelope keep apart and on the sheet, whatever the volts", "[report]") {
  struct Volts {
    double low, high;
  };
  for (const Volts& v : {Volts{0.7, 2.0}, Volts{-0.0004, 0.0005}, Volts{-320, -310.5}, Volts{4.99, 5.0}}) {
    CAPTURE(v.low, v.high);
    for (const std::uint64_t edges : {std::uint64_t{1}, static_cast<std::uint64_t>(most)}) {
      check_labels(eye_density_picture(Format::svg, eye_of(v.low, v.high, edges)), 10 + 6);
    }
    for (const double step_s : {1e-7, 30e-6, 0.001, 5.0}) {
      CAPTURE(step_s);
      Points points;
      for (int i = 0; i < 1000; ++i) points.push_back({i * step_s, v.low, v.high});
      check_labels(envelope_picture(Format::svg, points), 8);
    }
  }
  check_labels(eye_density_picture(Format::svg, {}), 2);
  check_labels(envelope_picture(Format::svg, {}), 2);
}

TEST_CASE("labels: those of block errors keep apart and on the sheet, from none to every block", "[report]") {
  for (const std::size_t bins : {std::size_t{1}, std::size_t{7}, std::size_t{512}}) {
    for (const std::int64_t words : {std::int64_t{1}, std::int64_t{735}, std::int64_t{1'000'000}}) {
      for (const std::int64_t wrong : {std::int64_t{0}, std::int64_t{1}, words}) {
        CAPTURE(bins, words, wrong);
        ErrorStrip strip{0.1, 7350, std::vector<ErrorBin>(bins, {wrong, words})};
        check_labels(error_picture(Format::svg, strip), 8);
      }
    }
  }
  check_labels(error_picture(Format::svg, {}), 2);
}
