// SPDX-License-Identifier: Apache-2.0
#include "core/report/disc_pictures.hpp"
#include "tests/support/number.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <regex>

using namespace eyelevel;
using namespace eyelevel::report;

namespace {

using Runs = std::vector<disc::RunLengths>;
using disc::picture::LengthSpread;
using disc::picture::RunSpreads;

disc::RunLengths row(int t, bool is_land, std::optional<double> error_ns, std::optional<double> jitter_ns,
                     std::int64_t count = 100) {
  disc::RunLengths r;
  r.t = t, r.is_land = is_land, r.count = count;
  r.length_error_ns = error_ns, r.jitter_ns = jitter_ns;
  return r;
}

// Cairo keeps places in 1/256 of a point: half a step each, weighted 1, 3 and 2 where two distances are held against
// each other.
constexpr double rounding = 6 * 0.5 / 256;

struct Place {
  double x, y;
};

// Where the lands' dots lie in an SVG, without the one of the key: circles are the only filled paths with curves that
// are not letters (those stand in <defs>), and begin at their right end.
std::vector<Place> dots(const std::string& svg) {
  const std::string drawing = svg.substr(svg.find("</defs>"));
  const std::regex circle("d=\"M ([0-9.]+) ([0-9.]+) C ");
  std::vector<Place> places;
  for (std::sregex_iterator it(drawing.begin(), drawing.end(), circle), end; it != end; ++it) {
    places.push_back({test::point_number((*it)[1].str()), test::point_number((*it)[2].str())});
  }
  return places;
}

std::uint32_t big_endian(const std::string& bytes, std::size_t at) {
  std::uint32_t value = 0;
  for (std::size_t i = at; i < at + 4; ++i) value = value << 8 | static_cast<unsigned char>(bytes[i]);
  return value;
}

double luminance(Colour c) {  // Rec. 709 of an sRGB colour, 0 to 1
  const auto linear = [](double v) { return v <= 0.04045 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4); };
  return 0.2126 * linear(c.red) + 0.7152 * linear(c.green) + 0.0722 * linear(c.blue);
}

double contrast(Colour a, Colour b) {
  const double low = std::min(luminance(a), luminance(b)), high = std::max(luminance(a), luminance(b));
  return (high + 0.05) / (low + 0.05);
}

bool has_no_number(const std::string& svg) {
  return svg.find("nan") != std::string::npos || svg.find("inf") != std::string::npos;
}

}  // namespace

TEST_CASE("disc pictures: PNG of 160 mm width at 96 dots per inch; letters in SVG and PDF", "[report]") {
  const Runs runs{row(3, true, 5.0, 10.0), row(3, false, -5.0, 12.0)};
  const std::string png = run_length_picture(Format::png, runs, {});
  REQUIRE(png.starts_with("\x89PNG"));
  CHECK(big_endian(png, 16) == 605);                                // 160 / 25.4 * 96, rounded
  CHECK(big_endian(png, 20) == 491);                                // 130 mm
  CHECK(big_endian(jitter_picture(Format::png, runs), 20) == 378);  // 100 mm
  // Letters are shapes in Cairo's SVG, and a font of that name in its PDF.
  CHECK(run_length_picture(Format::svg, runs, {}).find("glyph") != std::string::npos);
  CHECK(run_length_picture(Format::pdf, runs, {}).find("DejaVu") != std::string::npos);
}

TEST_CASE("disc pictures: run lengths lie where the data says, one row per length", "[report]") {
  const auto at = dots(run_length_picture(
      Format::svg, {row(3, true, -20.0, 1.0), row(5, true, 0.0, 1.0), row(7, true, 10.0, 1.0), row(8, true, {}, {})},
      {}));
  REQUIRE(at.size() == 4);  // three and the key's: the empty row has none
  CHECK(at[1].x - at[0].x == Approx(2 * (at[2].x - at[1].x)).margin(rounding));
  CHECK(at[2].x > at[1].x);
  CHECK(at[1].y - at[0].y == Approx(at[2].y - at[1].y).margin(rounding));
  CHECK(at[1].y > at[0].y);
}

TEST_CASE("disc pictures: jitter lies where the data says", "[report]") {
  const auto at =
      dots(jitter_picture(Format::svg, {row(3, true, 0.0, 30.0), row(4, true, 0.0, 20.0), row(6, true, 0.0, 10.0)}));
  REQUIRE(at.size() == 4);
  CHECK(at[1].y - at[0].y == Approx(at[2].y - at[1].y).margin(rounding));
  CHECK(at[2].x - at[1].x == Approx(2 * (at[1].x - at[0].x)).margin(rounding));
}

TEST_CASE("disc pictures: the spread of a row stands on it, highest where most runs lie", "[report]") {
  // One step of 5 ns holds all lands of 3T, from -10 ns to -5 ns.
  RunSpreads spreads;
  spreads.bit_ns = 1000;
  spreads.lands[3].counts[198] = 40;
  const Runs runs{row(3, true, -7.5, 2.0)};
  const std::string plain = run_length_picture(Format::svg, runs, {}),
                    with = run_length_picture(Format::svg, runs, spreads);
  const auto at = dots(with);
  REQUIRE(at.size() == 2);
  // The outline drawn in the lands' colour: the only path of more than two corners that is stroked in it.
  const std::regex outline("stroke:rgb\\(12%,36%,65%\\)[^>]*d=\"(M [0-9.]+ [0-9.]+ L [0-9.]+ [0-9.]+ L [^\"]*)\"");
  std::smatch found;
  CHECK_FALSE(std::regex_search(plain, found, outline));
  REQUIRE(std::regex_search(with, found, outline));
  const std::string corners = found[1];
  const std::regex number("[ML] ([0-9.]+) ([0-9.]+)");
  double left = 1e9, right = 0, highest = 1e9;
  std::vector<Place> places;
  constexpr double mm = 72 / 25.4;  // lines are in millimetres, areas in points
  for (std::sregex_iterator it(corners.begin(), corners.end(), number), end; it != end; ++it)
    places.push_back({test::point_number((*it)[1].str()) * mm, test::point_number((*it)[2].str()) * mm});
  for (const Place& p : places) highest = std::min(highest, p.y);
  for (const Place& p : places) {
    if (p.y > highest) continue;
    left = std::min(left, p.x);
    right = std::max(right, p.x);
  }
  CHECK(highest < at[0].y - 6);                                                // 0.34 of a row of 10 mm is 9.6 points
  CHECK(0.5 * (left + right) + 0.9 * mm == Approx(at[0].x).margin(rounding));  // the dot's right end
  CHECK(places.front().y == Approx(at[0].y).margin(rounding));
}

TEST_CASE("disc pictures: extreme data keeps inside the sheet and is never drawn as no number", "[report]") {
  const double no_number = std::numeric_limits<double>::quiet_NaN(), endless = std::numeric_limits<double>::infinity();
  const auto most = std::numeric_limits<std::int64_t>::max();
  const std::vector<Runs> hard{{},
                               {row(3, true, {}, {}, 0)},
                               {row(11, false, 0.0, {}, 1)},
                               {row(3, true, no_number, endless, most), row(4, true, 1e300, 1e300, most)}};
  RunSpreads full;
  full.bit_ns = 231;
  for (auto* groups : {&full.pits, &full.lands})
    for (LengthSpread& spread : *groups) spread.counts.fill(std::numeric_limits<std::uint32_t>::max());
  const double right_pt = 160 * 72 / 25.4;
  for (const Runs& runs : hard) {
    for (const std::string& svg : {run_length_picture(Format::svg, runs, {}),
                                   run_length_picture(Format::svg, runs, full), jitter_picture(Format::svg, runs)}) {
      CHECK_FALSE(has_no_number(svg));
      for (const Place& p : dots(svg)) CHECK(p.x < right_pt);
    }
  }
  CHECK_FALSE(has_no_number(eye_density_picture(Format::svg, {})));
  CHECK_FALSE(has_no_number(envelope_picture(Format::svg, {})));
  CHECK_FALSE(has_no_number(envelope_picture(Format::svg, {{0, 1, 1}})));
  CHECK_FALSE(has_no_number(error_picture(Format::svg, {})));
  CHECK_FALSE(has_no_number(error_picture(Format::svg, {0.01, 7350, {{0, 0}, {0, 73}, {73, 73}}})));
}

TEST_CASE("disc pictures: pits and lands can be told from the paper in grey, and differ in shape", "[report]") {
  // 3 to 1 is what WCAG 2.1 (1.4.11) asks of parts of a drawing; between the two a lesser step suffices beside the
  // shape.
  CHECK(contrast(ink::blue, ink::paper) > 3);
  CHECK(contrast(ink::orange, ink::paper) > 3);
  CHECK(contrast(ink::quiet, ink::paper) > 4.5);  // letters
  CHECK(contrast(ink::blue, ink::orange) > 1.5);
  const auto land = dots(run_length_picture(Format::svg, {row(3, true, 0.0, 1.0)}, {}));
  const auto pit = dots(run_length_picture(Format::svg, {row(3, false, 0.0, 1.0)}, {}));
  CHECK(land.size() == pit.size() + 1);
}
