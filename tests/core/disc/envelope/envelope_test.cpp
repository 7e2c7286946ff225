// SPDX-License-Identifier: Apache-2.0
// Outlines are given here as blocks with known swings; the outline of a rendered eye is tested in
// analyse_envelope_test.cpp.
#include "core/disc/envelope/envelope.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>

#include "core/base/random.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;

namespace {

constexpr double block_s = 34e-6, pi = 3.14159265358979323846;

// Blocks whose height and middle are functions of time; noise of 1 % on each extreme.
EnvelopeFigures of(double duration_s, const std::function<double(double)>& height,
                   const std::function<double(double)>& middle, double speed = 1) {
  envelope::EnvelopeSums sums(block_s, 4);
  base::Random random(7, "noise");
  for (double t = 0; t < duration_s; t += block_s) {
    const double h = height(t), m = middle(t);
    sums.take(m - 0.5 * h + 0.01 * random.normal(), m + 0.5 * h + 0.01 * random.normal());
  }
  return sums.figures(speed);
}

double one(double) { return 1; }

}  // namespace

TEST_CASE("envelope: turns of the disc are found with their rate, height and middle apart", "[disc]") {
  for (const double hz : {3.4, 5.17, 8.3}) {
    for (const double speed : {1.0, 2.0}) {
      CAPTURE(hz, speed);
      const double turns = hz * speed;
      const auto e = of(
          1.5, [&](double t) { return 1 + 0.06 * std::sin(2 * pi * turns * t + 1); },
          [&](double t) { return 1 + 0.02 * std::cos(2 * pi * turns * t); }, speed);
      REQUIRE(e.once_around);
      CHECK(e.once_around->hz == Approx(turns).margin(0.02));  // what noise leaves: turns_sweep_test.cpp
      CHECK(e.once_around->height_percent == Approx(6.0).margin(0.3));
      CHECK(e.once_around->middle_percent == Approx(2.0).margin(0.2));
      CHECK(e.hum.empty());
    }
  }
}

TEST_CASE("envelope: noise alone has no turns, no hum and no lines", "[disc]") {
  const auto e = of(1.0, one, one);
  CHECK_FALSE(e.once_around);
  CHECK(e.hum.empty());
  CHECK(e.lines.empty());
  CHECK(*e.height_v == Approx(1).margin(0.05));  // extremes of four blocks with noise
  CHECK_FALSE(e.openings_per_s);
  CHECK(*e.settled_after_s == 0);
}

TEST_CASE("envelope: hum is told at its frequency, and stands in the spectrum", "[disc]") {
  for (const double hz : {50.0, 60.0, 100.0, 120.0}) {
    CAPTURE(hz);
    const auto e = of(0.5, [&](double t) { return 1 + 0.03 * std::sin(2 * pi * hz * t); }, one);
    REQUIRE(e.hum.size() == 1);
    CHECK(e.hum[0].hz == hz);
    CHECK(e.hum[0].percent == Approx(3.0).margin(0.15));
    REQUIRE_FALSE(e.lines.empty());
    CHECK(e.lines[0].hz == Approx(hz).margin(2.0));
    // Between two lines a Hann window reads up to 1.42 dB low.
    CHECK(e.lines[0].percent < 3.15);
    CHECK(e.lines[0].percent > 3.0 * std::pow(10, -1.42 / 20) - 0.15);
  }
}

TEST_CASE("envelope: strong turns in a short record are no hum, and hum beside them is found", "[disc]") {
  const auto turning = [](double t) { return 1 + 0.06 * std::sin(2 * pi * 8.2 * t + 1); };
  CHECK(of(0.5, turning, one).hum.empty());
  // 60 Hz lies 2.6 Hz beside the seventh multiple: 1.5 / 0.7 s are enough to tell them apart.
  const auto e = of(0.7, [&](double t) { return turning(t) + 0.01 * std::sin(2 * pi * 60 * t); }, one);
  REQUIRE(e.hum.size() == 1);
  CHECK(e.hum[0].hz == 60);
  CHECK(e.hum[0].percent == Approx(1.0).margin(0.1));
}

TEST_CASE("envelope: hum that falls on a multiple of the turns is not told", "[disc]") {
  const auto e = of(1.0, [](double t) { return 1 + 0.06 * std::sin(2 * pi * 10 * t); }, one);
  REQUIRE(e.once_around);
  CHECK_THAT(e.missing.at(0), Catch::Contains("hum at 50 Hz cannot be told from a multiple of the turns"));
}

TEST_CASE("envelope: hum that is too fast for the points of the outline is not told", "[disc]") {
  // A point every 6 ms, as of a sound card at 44.1 kHz.
  envelope::EnvelopeSums sums(6e-3, 1);
  base::Random random(7, "noise");
  for (int i = 0; i < 1000; ++i) sums.take(0.5 + 0.01 * random.normal(), 1.5 + 0.01 * random.normal());
  const auto e = sums.figures(1);
  const auto told = std::count_if(e.missing.begin(), e.missing.end(), [](const std::string& why) {
    return why.find("a point every 6 ms only") != std::string::npos;
  });
  CHECK(told == 2);  // 100 and 120 Hz
}

TEST_CASE("envelope: a signal that does not move says so", "[disc]") {
  envelope::EnvelopeSums sums(block_s, 4);
  for (int i = 0; i < 10000; ++i) sums.take(1.25, 1.25);
  CHECK_FALSE(sums.figures(1).height_v);
  CHECK_THAT(sums.figures(1).missing.at(0), Catch::Contains("does not move"));
}

TEST_CASE("envelope: nothing, one block and one point are too short, and say so", "[disc]") {
  const std::string wanted = "the outline of the eye wants 8.7 ms at least";
  for (const int blocks : {0, 1, 4, 63 * 4}) {
    CAPTURE(blocks);
    envelope::EnvelopeSums sums(block_s, 4);
    for (int i = 0; i < blocks; ++i) sums.take(1, 2);
    const EnvelopeFigures e = sums.figures(1);
    CHECK_FALSE(e.height_v);
    CHECK_FALSE(e.settled_after_s);
    CHECK_FALSE(e.once_around);
    CHECK(e.lines.empty());
    REQUIRE(e.missing.size() == 1);
    CHECK(e.missing[0] == wanted);
  }
}

TEST_CASE("envelope: blocks that are no number are passed over, wherever they come", "[disc]") {
  const double none = std::numeric_limits<double>::quiet_NaN(), endless = std::numeric_limits<double>::infinity();
  envelope::EnvelopeSums sums(block_s, 4), without(block_s, 4), all(block_s, 4);
  const int blocks = 40000;
  for (int i = 0; i < blocks; ++i) {
    const double t = i * block_s, h = 1 + 0.06 * std::sin(2 * pi * 5.17 * t);
    // The second and the third block of each point, and from 0.5 s on all for 10 ms.
    const bool gap = i % 4 == 1 || i % 4 == 2 || (t > 0.5 && t < 0.51);
    if (gap)
      sums.take(i % 2 == 0 ? none : 1, i % 2 == 0 ? 2 : endless);
    else
      sums.take(1, 1 + h);
    without.take(1, 1 + h);
    all.take(none, none);
  }
  const EnvelopeFigures e = sums.figures(1), right = without.figures(1);
  REQUIRE(e.once_around);
  CHECK(e.once_around->hz == Approx(right.once_around->hz).margin(0.01));
  CHECK(e.once_around->height_percent == Approx(right.once_around->height_percent).margin(0.1));
  CHECK(*e.height_v == Approx(*right.height_v).epsilon(0.001));
  CHECK_FALSE(all.figures(1).height_v);
}

TEST_CASE("envelope: a height beyond what can be counted is not told", "[disc]") {
  envelope::EnvelopeSums sums(block_s, 4);
  for (int i = 0; i < 1000; ++i) sums.take(-1e300, 1e300);
  const EnvelopeFigures e = sums.figures(1);
  CHECK_FALSE(e.height_v);
  CHECK_THAT(e.missing.at(0), Catch::Contains("no number"));
}

TEST_CASE("envelope: of a record of hours no turns are told", "[disc]") {
  envelope::EnvelopeSums sums(0.1, 1);  // points of 0.1 s: 12 turns a second have fewer than three
  for (int i = 0; i < 5000; ++i) sums.take(0, 1 + 0.06 * std::sin(i));
  const EnvelopeFigures e = sums.figures(1);
  CHECK_FALSE(e.once_around);
  CHECK_THAT(e.missing.at(0), Catch::Contains("turns of the disc want a record that is shorter"));
}

TEST_CASE("envelope: what a short record cannot say is named, with how long would do", "[disc]") {
  const auto e = of(0.03, one, one);
  CHECK_FALSE(e.once_around);
  REQUIRE(e.missing.size() == 2);
  CHECK_THAT(e.missing[0], Catch::Contains("a turn of the disc wants a record of 0.48 s"));
  CHECK_THAT(e.missing[1], Catch::Contains("hum wants a record of 0.2 s"));
  CHECK_THAT(of(0.005, one, one).missing.at(0), Catch::Contains("8.7 ms at least"));
  CHECK_FALSE(of(0, one, one).height_v);
}

TEST_CASE("envelope: settling lasts until the height stays near its last", "[disc]") {
  const auto e = of(0.2, [](double t) { return 1 - std::exp(-t / 0.01); }, one);
  // Within 10 % after 0.01 ln 10 = 23 ms.
  CHECK(*e.settled_after_s == Approx(0.0230).margin(0.003));
}

TEST_CASE("envelope: an eye that opens and closes is counted, spots are not", "[disc]") {
  const auto crossing = of(0.2, [](double t) { return 0.55 + 0.45 * std::cos(2 * pi * 300 * t); }, one);
  REQUIRE(crossing.openings_per_s);
  CHECK(*crossing.openings_per_s == Approx(300).epsilon(0.03));
  const auto spots = of(0.2, [](double t) { return std::fmod(t, 0.06) < 0.0005 ? 0.1 : 1.0; }, one);
  CHECK_FALSE(spots.openings_per_s);
}

TEST_CASE("envelope: a long record is thinned and says the same", "[disc]") {
  // 20 s are 147 000 points: three times more than are held.
  const auto e = of(20, [](double t) { return 1 + 0.05 * std::sin(2 * pi * 4.4 * t); }, one);
  REQUIRE(e.once_around);
  CHECK(e.once_around->hz == Approx(4.4).margin(0.01));
  // The extremes of four blocks with noise of 1 % add 2 x 1.03 % to the mean height.
  CHECK(e.once_around->height_percent == Approx(5 / 1.0206).margin(0.05));
}
