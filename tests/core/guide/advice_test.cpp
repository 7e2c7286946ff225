// SPDX-License-Identifier: Apache-2.0
#include "core/guide/advice.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <string>
#include <vector>

#include "core/base/random.hpp"

using namespace eyelevel::guide;
using eyelevel::base::Random;

namespace {

const Aim level{1.08, 1.32, 1.45, "V"};
constexpr double half_width_v = 0.12;
constexpr double expanded_v = 0.03;
constexpr double repeatability_v = 0.004;

Standing at(double value) { return {value, repeatability_v, expanded_v}; }

// A trimmer and a hand with the figures of common practice, written apart from the model that is tested.
struct Bench {
  Random chance;
  bool clockwise_raises;
  double per_deg, play_deg, noise, screw_deg = 0, wiper_deg = 0, start, landed = 0;

  explicit Bench(Random random)
      : chance(random),
        clockwise_raises(chance.chance(0.5)),
        per_deg(std::exp(chance.uniform(std::log(0.004), std::log(0.03)))),
        play_deg(chance.log_normal_5_95(1, 4)),
        noise(chance.log_normal_5_95(0.002, 0.01)),
        screw_deg(chance.uniform(-play_deg / 2, play_deg / 2)),
        start(chance.uniform(0.78, 1.2) * 1.2) {}

  double level_v() const { return 1.2 / (1.2 / start - wiper_deg * per_deg) * (1 + landed); }
  Standing measured() { return at(level_v() * (1 + chance.normal(0, 0.003))); }
  // Whether it was turned the way it was asked.
  bool turn(double asked_deg, double wrong_way, double forgotten) {
    if (chance.chance(forgotten)) return true;
    const bool is_wrong = chance.chance(wrong_way);
    const double size = std::abs(asked_deg);
    const double turned = std::max(0.5, size + chance.normal(0, 1.5 + 0.15 * size));
    const double raising = (asked_deg > 0) == clockwise_raises ? 1 : -1;
    screw_deg += (is_wrong ? -1 : 1) * raising * turned;
    wiper_deg = std::clamp(wiper_deg, screw_deg - play_deg / 2, screw_deg + play_deg / 2);
    landed = chance.normal(0, noise);
    return !is_wrong;
  }
};

bool is_within(const Standing& s) { return std::abs(s.value - 1.2) < half_width_v - s.expanded_uncertainty; }

struct Outcome {
  int turns = 0;
  bool is_cured = false;
  std::string stopped;
  double start = 0;
  double highest_later = 0;  // after turns as advised, but for the first
};

Outcome visit(Bench bench, double sense, double wrong_way, double forgotten) {
  Guide guide(level, {sense < 0 ? 0.5 : bench.clockwise_raises ? sense : 1 - sense, Growth::as_light, 1.2});
  Outcome outcome;
  outcome.start = bench.level_v();
  Standing now = bench.measured();
  while (!is_within(now) && outcome.turns < 12) {
    const Advice advice = guide.advise(now);
    if (advice.stop) {
      outcome.stopped = advice.stop->cause;
      return outcome;
    }
    const bool as_advised = bench.turn(advice.clockwise_deg, wrong_way, forgotten);
    ++outcome.turns;
    if (as_advised && outcome.turns > 1) outcome.highest_later = std::max(outcome.highest_later, bench.level_v());
    const Standing before = now;
    now = bench.measured();
    guide.turned(advice.clockwise_deg, before, now);
  }
  outcome.is_cured = is_within(now);
  return outcome;
}

struct Figures {
  int median = 0, of_95 = 0, not_cured = 0, stopped = 0, passed_ceiling = 0, visits = 0;
};

Figures figures(int units, double sense, double wrong_way, double forgotten) {
  const Random random(20, "guide");
  std::vector<int> turns;
  Figures f;
  for (int i = 0; i < units; ++i) {
    const Outcome one = visit(Bench(random.stream("unit " + std::to_string(i))), sense, wrong_way, forgotten);
    if (one.turns == 0) continue;
    ++f.visits;
    turns.push_back(one.is_cured ? one.turns : 99);
    if (!one.stopped.empty()) ++f.stopped;
    if (!one.is_cured) ++f.not_cured;
    if (one.start < level.middle() && one.highest_later > *level.ceiling) ++f.passed_ceiling;
  }
  std::sort(turns.begin(), turns.end());
  f.median = turns[turns.size() / 2];
  f.of_95 = turns[turns.size() * 95 / 100];
  UNSCOPED_INFO("seed 20: " << f.visits << " adjusted, median " << f.median << ", 95 % within " << f.of_95 << ", "
                            << f.not_cured << " not cured, " << f.stopped << " stopped, " << f.passed_ceiling
                            << " beyond the ceiling");
  return f;
}

// EYELEVEL_UNITS counts more of them.
int units() {
  const char* wished = std::getenv("EYELEVEL_UNITS");
  return wished != nullptr ? std::atoi(wished) : 300;
}

}  // namespace

TEST_CASE("advice: the first turn is the smallest workable, the way the model sheet says") {
  const Guide raises(level, {0.95, Growth::as_light, 1.2}), lowers(level, {0.05, Growth::as_light, 1.2});
  CHECK(raises.advise(at(0.95)).clockwise_deg == 5);
  CHECK(lowers.advise(at(0.95)).clockwise_deg == -5);
  CHECK(raises.advise(at(1.40)).clockwise_deg < 0);
}

TEST_CASE("advice: it says how sure it is of the way") {
  const Guide guide(level, {0.2, Growth::as_light, 1.2});
  const Advice advice = guide.advise(at(0.95));
  CHECK(advice.clockwise_deg < 0);
  CHECK(advice.belief == Approx(0.8));
  CHECK(advice.words.starts_with("anticlockwise by 5 degrees, about a "));
}

TEST_CASE("advice: after a turn the wrong way it turns back") {
  Guide guide(level, {0.5, Growth::as_light, 1.2});
  const double first = guide.advise(at(0.95)).clockwise_deg;
  guide.turned(first, at(0.95), at(0.90));
  const Advice next = guide.advise(at(0.90));
  CHECK(next.clockwise_deg * first < 0);
  CHECK_FALSE(next.last_did_nothing);
}

TEST_CASE("advice: it says when the last turn did nothing") {
  Guide guide(level, {0.95, Growth::as_light, 1.2});
  guide.turned(4, at(0.95), at(0.951));
  CHECK(guide.advise(at(0.951)).last_did_nothing);
}

TEST_CASE("advice: a level that never follows is named after a few turns") {
  Guide guide(level, {0.95, Growth::as_light, 1.2});
  int turns = 0;
  Advice advice = guide.advise(at(0.8));
  for (; !advice.stop && turns < 8; ++turns) {
    guide.turned(advice.clockwise_deg, at(0.8), at(0.8));
    advice = guide.advise(at(0.8));
  }
  REQUIRE(advice.stop);
  CHECK(advice.stop->cause == "the level does not follow the trimmer");
  CHECK(turns <= 6);
}

TEST_CASE("advice: a level that stops short of its limits is named") {
  Guide guide(level, {0.95, Growth::as_light, 1.2});
  double now = 0.80;
  Advice advice = guide.advise(at(now));
  for (int turns = 0; !advice.stop && turns < 10; ++turns) {
    const double next = std::min(0.92, now + 0.009 * advice.clockwise_deg);
    guide.turned(advice.clockwise_deg, at(now), at(next));
    now = next;
    advice = guide.advise(at(now));
  }
  REQUIRE(advice.stop);
  CHECK(advice.stop->cause == "no trimmer position within limits");
}

TEST_CASE("advice: a worn laser is named, and one that reads too high is brought down all the same") {
  Guide guide(level, {0.95, Growth::as_light, 1.2});
  guide.turned(5, at(0.781), at(0.769));
  guide.turned(10, at(0.769), at(0.754));
  guide.turned(-20, at(0.754), at(0.739));
  guide.turned(20, at(0.739), at(0.737));
  const Advice low = guide.advise(at(0.737));
  REQUIRE(low.stop);
  CHECK(low.stop->cause == "no trimmer position within limits");
  CHECK(low.stop->because.find("worn") != std::string::npos);
  CHECK_FALSE(guide.advise(at(1.4)).stop);
}

TEST_CASE("advice: while the way is not sure, no turn is more than twice the largest before") {
  Guide guide(level, {0.5, Growth::as_light, 1.2});
  guide.turned(4, at(0.8), at(0.801));
  const Advice next = guide.advise(at(0.801));
  REQUIRE_FALSE(next.stop);
  CHECK(std::abs(next.clockwise_deg) <= 8);
}

TEST_CASE("advice: jumps are a bad contact") {
  Guide guide(level, {0.95, Growth::as_light, 1.2});
  double now = 1.0;
  for (const double next : {1.12, 0.85, 1.3, 0.8}) {
    guide.turned(4, at(now), at(next));
    now = next;
  }
  REQUIRE(guide.advise(at(now)).stop);
  CHECK(guide.advise(at(now)).stop->cause == "trimmer contact bad");
}

TEST_CASE("advice: unknown sense: some turns more, none beyond the ceiling from below the limits") {
  const Figures f = figures(units(), -1, 0.02, 0.01);
  CHECK(f.median <= 4);
  CHECK(f.of_95 <= 8);
  CHECK(f.stopped <= f.visits / 100);
  CHECK(f.passed_ceiling == 0);
}

TEST_CASE(
    "advice: the sense from the model sheet and hasty hands: three turns in the middle, six for 95 %, none beyond "
    "the ceiling from below the limits") {
  const Figures f = figures(units(), 0.95, 0.05, 0.05);
  CHECK(f.median <= 3);
  CHECK(f.of_95 <= 6);
  CHECK(f.stopped <= f.visits / 100);
  CHECK(f.passed_ceiling == 0);
}
