// SPDX-License-Identifier: Apache-2.0
#include "core/disc/eye/levels.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <limits>

#include "core/base/random.hpp"
#include "tests/support/run_row.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;

namespace {

constexpr double none = std::numeric_limits<double>::infinity();

struct Made {
  std::vector<float> x;
  std::vector<eye::Run> runs;
};

// Runs of alternating polarity whose signal is given by their length and the place from the centre, in channel bits.
template <class Shape>
Made make(const std::vector<int>& lengths, double period, Shape shape, double noise = 0) {
  Made made;
  base::Random random(6, "noise");
  double at = 5 * period;
  bool high = true;
  for (const int n : lengths) {
    made.runs.push_back({at, at + n * period, static_cast<float>(period), 0, n, high});
    at += n * period;
    high = !high;
  }
  made.x.assign(static_cast<std::size_t>(at + 5 * period), 0.0F);
  for (std::size_t i = 0; i < made.x.size(); ++i) {
    for (const eye::Run& run : made.runs) {
      const auto t = static_cast<double>(i);
      if (t < run.start || t >= run.end) continue;
      const double value = shape(run.length, (t - run.middle()) / period);
      made.x[i] = static_cast<float>((run.high ? value : -value) + random.normal(0, noise));
    }
  }
  return made;
}

eye::EyeLevels levels_of(const Made& made, eye::Rails rails = {-none, none}) {
  eye::LevelSums sums(rails);
  support::RunRow(made.runs).give([&](const eye::Runs& some) { sums.take(std::span<const float>(made.x), some); });
  sums.end_part();
  return sums.result();
}

std::vector<int> repeated(std::vector<int> pattern, int times) {
  std::vector<int> all;
  for (int i = 0; i < times; ++i) all.insert(all.end(), pattern.begin(), pattern.end());
  return all;
}

}  // namespace

TEST_CASE("eye levels: I11 is the settled level, I3 the level at the centre, at any sample rate", "[disc]") {
  // 11T: flat within 4 T of the centre; 3T: a rounded top 0.54 high, as a Gaussian spot of 1.25 T makes it.
  const auto shape = [](int n, double u) {
    return n == 11 ? (std::abs(u) < 4 ? 1.0 : 0.5) : 0.54 * std::exp(-0.35 * u * u);
  };
  for (const double period : {1.85, 2.31, 4.63, 21.3}) {
    const eye::EyeLevels levels = levels_of(make(repeated({11, 11, 3, 5, 3, 3, 5, 3}, 40), period, shape));
    INFO(period << " samples a channel bit");
    REQUIRE((levels.high[11] && levels.low[11] && levels.high[3] && levels.low[3]));
    CHECK(levels.high[11]->mean == Approx(1.0));
    CHECK(levels.low[11]->mean == Approx(-1.0));
    CHECK(levels.high[3]->mean == Approx(0.54).margin(0.004));
    CHECK(levels.low[3]->mean == Approx(-0.54).margin(0.004));
    CHECK(levels.high[11]->runs == 40);
  }
}

TEST_CASE("eye levels: each length and side has its level", "[disc]") {
  // Flat runs as high as their length, 600 of each length and side, in a rising baseline. Its mean over the record is
  // 0.5; that of 600 places spread evenly lies within 1/300 of it.
  Made made = make(repeated({5, 5, 11, 11, 3, 3}, 600), 4.63, [](int n, double) { return 0.1 * n; });
  const auto n = static_cast<double>(made.x.size());
  for (std::size_t i = 0; i < made.x.size(); ++i) made.x[i] += static_cast<float>(static_cast<double>(i) / n);
  const eye::EyeLevels levels = levels_of(made);
  for (const std::size_t length : {3U, 5U, 11U}) {
    INFO(length << "T");
    REQUIRE((levels.high[length] && levels.low[length]));
    CHECK(levels.high[length]->mean == Approx(0.5 + 0.1 * static_cast<double>(length)).margin(1.0 / 300));
    CHECK(levels.low[length]->mean == Approx(0.5 - 0.1 * static_cast<double>(length)).margin(1.0 / 300));
  }
  CHECK_FALSE(levels.high[4]);
}

TEST_CASE("eye levels: noise is averaged out, its size and the standard error are stated", "[disc]") {
  const auto flat = [](int, double) { return 1.0; };
  const eye::EyeLevels levels = levels_of(make(repeated({11, 11}, 400), 4.63, flat, 0.05));
  CHECK(*levels.noise == Approx(0.05).epsilon(0.05));
  // Nine samples around each centre, 400 runs.
  CHECK(levels.high[11]->standard_error == Approx(0.05 / std::sqrt(9.0 * 400)).epsilon(0.15));
  CHECK(levels.high[11]->mean == Approx(1.0).margin(4 * levels.high[11]->standard_error));
}

TEST_CASE("eye levels: a run far from those around it is left out", "[disc]") {
  Made made = make(repeated({11, 11}, 50), 4.63, [](int, double) { return 1.0; });
  for (auto i = static_cast<std::size_t>(made.runs[40].start); i < static_cast<std::size_t>(made.runs[41].end); ++i) {
    made.x[i] *= 0.5F;
  }
  const eye::EyeLevels levels = levels_of(made);
  CHECK(levels.left_out == 2);
  CHECK(levels.high[11]->mean == Approx(1.0));
  CHECK(levels.high[11]->runs == 49);
}

TEST_CASE("eye levels: samples with a wrong bit do not pull the level of 3T", "[disc]") {
  const auto shape = [](int n, double) { return n == 11 ? 100.0 : 50.0; };
  Made made = make(repeated({11, 11, 3, 3, 3, 3, 3, 3}, 200), 4.63, shape);
  base::Random random(3, "flips");
  for (float& x : made.x) {
    if (random.uniform(0, 1) < 0.02) x = x > 0 ? x - 64 : x + 64;
  }
  const eye::EyeLevels levels = levels_of(made);
  CHECK(levels.high[3]->mean == Approx(50).margin(0.1));
  CHECK(levels.low[3]->mean == Approx(-50).margin(0.1));
  CHECK(levels.left_out > 20);
}

TEST_CASE("eye levels: a moving baseline leaves no run out", "[disc]") {
  Made made = make(repeated({11, 11}, 200), 4.63, [](int, double) { return 1.0; });
  const double n = static_cast<double>(made.x.size());
  for (std::size_t i = 0; i < made.x.size(); ++i)
    made.x[i] += static_cast<float>(std::sin(40 * static_cast<double>(i) / n));
  for (eye::Run& run : made.runs) run.level = static_cast<float>(std::sin(40 * run.middle() / n));
  CHECK(levels_of(made).left_out == 0);
}

TEST_CASE("eye levels: the share of settled samples at the rails is told for each side", "[disc]") {
  const Made made = make(repeated({11, 11}, 20), 4.63, [](int, double) { return 1.0; });
  const eye::EyeLevels levels = levels_of(made, {-2.0, 1.0});
  CHECK(levels.clipped_high == 1.0);
  CHECK(levels.clipped_low == 0.0);
}

TEST_CASE("eye levels: nothing is said of runs that are not there", "[disc]") {
  const eye::EyeLevels levels = levels_of(make({5, 6, 7}, 4.63, [](int, double) { return 1.0; }));
  CHECK_FALSE(levels.high[11]);
  CHECK_FALSE(levels.low[3]);
  CHECK_FALSE(levels.noise);
}
