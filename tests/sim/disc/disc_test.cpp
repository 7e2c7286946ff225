// SPDX-License-Identifier: Apache-2.0
#include "sim/disc/disc.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <functional>
#include <string>
#include <vector>

using namespace eyelevel::sim;
using eyelevel::base::Random;

namespace {

std::vector<double> many(DiscKind kind, const std::function<double(const Disc&)>& field) {
  std::vector<double> values;
  for (int i = 0; i < 4000; ++i)
    values.push_back(field(draw_disc(kind, nullptr, Random(5, "disc").stream(std::to_string(i)))));
  std::ranges::sort(values);
  return values;
}

double share_below(const std::vector<double>& sorted, double limit) {
  return static_cast<double>(std::ranges::lower_bound(sorted, limit) - sorted.begin()) /
         static_cast<double>(sorted.size());
}

// Four standard errors of a share of 5 % among 4000.
constexpr double share_tolerance = 0.014;

}  // namespace

TEST_CASE("disc: light of each kind lies in the range of the trade, 5 % below and 5 % above", "[sim]") {
  const auto light = [](const Disc& disc) { return disc.light; };
  const auto recordable = many(DiscKind::recordable, light);
  CHECK(share_below(recordable, 0.65) == Approx(0.05).margin(share_tolerance));
  CHECK(share_below(recordable, 0.90) == Approx(0.95).margin(share_tolerance));
  const auto rewritable = many(DiscKind::rewritable, light);
  CHECK(share_below(rewritable, 0.20) == Approx(0.05).margin(share_tolerance));
  CHECK(share_below(rewritable, 0.33) == Approx(0.95).margin(share_tolerance));
  // Pressed discs: median 1, standard deviation 4 % from disc to disc.
  const auto pressed = many(DiscKind::pressed, light);
  CHECK(share_below(pressed, 1.0) == Approx(0.5).margin(4 * 0.5 / std::sqrt(4000)));
  CHECK(share_below(pressed, std::exp(0.04)) == Approx(0.8413).margin(4 * 0.366 / std::sqrt(4000)));
}

TEST_CASE("disc: every disc keeps the limits of ECMA-130 clauses 11 and 12", "[sim]") {
  for (const DiscKind kind : {DiscKind::pressed, DiscKind::recordable}) {
    const auto modulation = many(kind, [](const Disc& disc) { return disc.modulation; });
    CHECK(modulation.front() >= 0.6);  // I11/Itop at least 0.6
    CHECK(modulation.back() < 0.9);
    const auto asymmetry = many(kind, [](const Disc& disc) { return disc.asymmetry; });
    CHECK(asymmetry.front() >= -0.2);
    CHECK(asymmetry.back() <= 0.2);
    const auto speed = many(kind, [](const Disc& disc) { return disc.speed_m_s; });
    CHECK(speed.front() >= 1.2);
    CHECK(speed.back() <= 1.4);
  }
}

TEST_CASE("disc: the same seed draws the same disc, and kinds may share contents", "[sim]") {
  const auto contents = std::make_shared<const Contents>(draw_contents({}, Random(1, "contents")));
  const Disc a = draw_disc(DiscKind::pressed, contents, Random(1, "a"));
  const Disc again = draw_disc(DiscKind::pressed, contents, Random(1, "a"));
  const Disc copy = draw_disc(DiscKind::recordable, contents, Random(1, "b"), "copy of it");
  CHECK(a.light == again.light);
  CHECK(a.identity == again.identity);
  CHECK(copy.identity == "copy of it");
  CHECK(copy.contents == a.contents);
  CHECK(copy.light < a.light);
}

TEST_CASE("disc: tracks follow each other without a gap, with two seconds before the first", "[sim]") {
  for (std::uint64_t seed = 0; seed < 200; ++seed) {
    const Contents contents = draw_contents({}, Random(seed, "contents"));
    REQUIRE(contents.tracks.size() >= 1);
    CHECK(contents.tracks.front().pause_start == 0);
    CHECK(contents.tracks.front().start == 150);
    for (std::size_t i = 0; i < contents.tracks.size(); ++i) {
      const Track& track = contents.tracks[i];
      CHECK(track.number == static_cast<int>(i) + 1);
      CHECK(track.end - track.start >= 4 * 75);  // no track is shorter than four seconds
      if (i > 0) CHECK(track.pause_start == contents.tracks[i - 1].end);
      CHECK_FALSE(track.is_data());
    }
    CHECK(contents.lead_out() <= 80 * 60 * 75);
  }
}

TEST_CASE("disc: a section finds its track, pause included, and none in lead-in and lead-out", "[sim]") {
  const Contents contents = draw_contents({}, Random(3, "contents"));
  CHECK(contents.track_at(-1) == nullptr);
  CHECK(contents.track_at(0) == &contents.tracks.front());
  const Track& second = contents.tracks.at(1);
  CHECK(contents.track_at(second.pause_start) == &second);
  CHECK(contents.track_at(second.pause_start - 1) == &contents.tracks.front());
  CHECK(contents.track_at(second.end - 1) == &second);
  CHECK(contents.track_at(contents.lead_out()) == nullptr);
  CHECK(contents.track(2) == &second);
  CHECK(contents.track(100) == nullptr);
}

TEST_CASE("disc: a mixed disc has one data track with pauses on both sides", "[sim]") {
  for (std::uint64_t seed = 0; seed < 50; ++seed) {
    const Contents contents = draw_contents({.first_is_data = true}, Random(seed, "contents"));
    CHECK(contents.tracks.front().is_data());
    REQUIRE(contents.tracks.size() > 1);
    CHECK_FALSE(contents.tracks.at(1).is_data());
    CHECK(contents.tracks.at(1).start - contents.tracks.at(1).pause_start == 150);
  }
}

TEST_CASE("disc: light varies once around and from inside to outside as stated", "[sim]") {
  Disc disc;
  disc.light = 0.8;
  disc.light_once_around = 0.02;
  disc.light_phase_rad = 0;
  disc.light_outer = -0.03;
  CHECK(disc.light_at(25, 0) == Approx(0.8));
  CHECK(disc.light_at(25, M_PI / 2) == Approx(0.8 * 1.02));
  CHECK(disc.light_at(58, 0) == Approx(0.8 * 0.97));
  double mean = 0;
  for (int i = 0; i < 360; ++i) mean += disc.light_at(40, i * M_PI / 180) / 360;
  CHECK(mean == Approx(disc.light_at(40, 0)).margin(1e-12));
}

TEST_CASE("disc: kinds have the names of the vocabulary", "[sim]") {
  CHECK(name_of(DiscKind::pressed) == "pressed");
  CHECK(name_of(DiscKind::recordable) == "recordable");
  CHECK(name_of(DiscKind::rewritable) == "rewritable");
}

TEST_CASE("disc: scratches take their share of the light in their middle, and none beside them", "[sim]") {
  Disc disc;
  disc.light_once_around = 0;
  disc.scratch_depth = 0.6;
  disc.scratch_turns = 0.1;
  constexpr double turn_rad = 6.283185307179586;
  CHECK(disc.light_at(30, 0.5 * turn_rad) == Approx(0.4));
  CHECK(disc.light_at(30, 0.44 * turn_rad) == 1.0);
  CHECK(disc.light_at(30, 0.56 * turn_rad) == 1.0);
  CHECK(disc.light_at(30, 0.475 * turn_rad) == Approx(0.7));
}
