// SPDX-License-Identifier: Apache-2.0
// Every vector width that this processor has against plain loops, and against each other.
#include "core/disc/clock/kernels.hpp"

#include <hwy/targets.h>

#include <catch2/catch.hpp>

#include <algorithm>
#include <bit>
#include <cmath>
#include <functional>

#include "core/base/random.hpp"

using namespace eyelevel;
using namespace eyelevel::disc::clock;

namespace {

// Runs the work once for each set of instructions, and with all of them again afterwards.
void on_each_target(const std::function<void()>& work) {
  const auto choose = [](std::int64_t targets) {
    hwy::SetSupportedTargetsForTest(targets);
    hwy::GetChosenTarget().Update(hwy::SupportedTargets());
  };
  std::int64_t left = hwy::SupportedTargets();
  REQUIRE(std::popcount(static_cast<std::uint64_t>(left)) >= 2);
  for (; left != 0; left &= left - 1) {
    const std::int64_t target = left & -left;
    choose(target);
    INFO(hwy::TargetName(target));
    work();
  }
  choose(0);
}

// A smooth signal with noise that is sometimes as large as the hysteresis; full scale is 1.
template <class T>
std::vector<T> signal_of(std::size_t n, double scale, double noise, std::uint64_t seed) {
  base::Random random(seed, "signal");
  std::vector<T> x;
  double phase = 0;
  for (std::size_t i = 0; i < n; ++i) {
    phase += random.uniform(0.05, 0.6);
    const double value = scale * std::clamp(0.8 * std::sin(phase) + noise * random.normal(), -1.0, 1.0);
    x.push_back(static_cast<T>(std::is_floating_point_v<T> ? value : std::nearbyint(value)));
  }
  return x;
}

template <class T>
void check_sums(double scale) {
  for (const std::size_t n : {1U, 2U, 15U, 63U, 64U, 65U, 640U, 40000U}) {
    const std::vector<T> x = signal_of<T>(n, scale, 0.3, n);
    double sum = 0, sizes = 0;
    for (const T value : x) {
      sum += static_cast<double>(value);
      sizes += std::abs(static_cast<double>(value));
    }
    on_each_target([&] {
      INFO(n << " samples");
      const kernels::BlockSums<T> sums = kernels::block_sums(std::span<const T>(x));
      CHECK(sums.low == *std::min_element(x.begin(), x.end()));
      CHECK(sums.high == *std::max_element(x.begin(), x.end()));
      CHECK(std::abs(sums.sum - sum) <= (std::is_floating_point_v<T> ? 1e-12 * sizes : 0.0));
    });
  }
}

// Sample by sample, as kernels.hpp says it.
template <class T>
std::vector<std::uint32_t> plain_confirmed(const std::vector<T>& x, const std::vector<float>& levels, float hysteresis,
                                           kernels::Polarity& polarity) {
  std::vector<std::uint32_t> places;
  for (std::size_t i = 0; i < x.size(); ++i) {
    const float level = levels[i / kernels::word];
    const bool above = static_cast<float>(x[i]) > level + hysteresis,
               below = static_cast<float>(x[i]) < level - hysteresis;
    if (!above && !below) continue;
    if (polarity.known && above != polarity.high) places.push_back(static_cast<std::uint32_t>(i));
    polarity = {true, above};
  }
  return places;
}

template <class T>
struct Sliced {
  std::vector<T> x;
  std::vector<float> levels;  // of words
  float hysteresis;
  std::vector<std::uint32_t> places;
  std::vector<float> level;  // of edges
  bool first_rises = false;
};

template <class T>
Sliced<T> sliced(double scale, double noise, std::uint64_t seed) {
  Sliced<T> s;
  s.x = signal_of<T>(200 * kernels::word, scale, noise, seed);
  base::Random random(seed, "levels");
  for (std::size_t w = 0; w < 200; ++w) s.levels.push_back(static_cast<float>(scale * random.uniform(-0.1, 0.1)));
  s.hysteresis = static_cast<float>(0.06 * scale);
  kernels::Polarity polarity;
  s.places = plain_confirmed(s.x, s.levels, s.hysteresis, polarity);
  for (const std::uint32_t place : s.places) s.level.push_back(s.levels[place / kernels::word]);
  s.first_rises = (s.places.size() % 2 == 1) == polarity.high;
  return s;
}

template <class T>
void check_confirmed(double scale) {
  for (std::uint64_t seed = 1; seed <= 5; ++seed) {
    const Sliced<T> s = sliced<T>(scale, 0.05 * static_cast<double>(seed - 1), seed);
    on_each_target([&] {
      kernels::Polarity polarity;
      std::vector<std::uint32_t> places(s.x.size() + 3);
      std::vector<float> level(places.size());
      // In two parts, so that the state between them counts.
      const std::size_t words = 77, samples = words * kernels::word;
      const std::span<const float> levels(s.levels);
      std::size_t n =
          kernels::confirmed(s.x.data(), 0, levels.first(words), s.hysteresis, polarity, places.data(), level.data());
      n += kernels::confirmed(s.x.data() + samples, samples, levels.subspan(words), s.hysteresis, polarity,
                              places.data() + n, level.data() + n);
      places.resize(n);
      level.resize(n);
      CHECK(places == s.places);
      CHECK(level == s.level);
    });
  }
}

// On a straight line, in double precision, if one of the last three steps crosses and nothing else does within the
// band.
template <class T>
bool plain_cross(const Sliced<T>& s, std::size_t k, double& at) {
  const auto place = static_cast<std::size_t>(s.places[k]);
  if (k == 0 || place < 3 || place < s.places[k - 1] + 3) return false;
  const double sign = ((k % 2 == 0) == s.first_rises) ? 1 : -1;
  const auto above = [&](std::size_t i) {
    return sign * (static_cast<double>(s.x[i]) - static_cast<double>(s.level[k]));
  };
  std::size_t from = place - 1;
  while (from > place - 3 && above(from) > -static_cast<double>(s.hysteresis)) --from;
  if (above(from) > -static_cast<double>(s.hysteresis)) return false;
  int crossings = 0;
  for (std::size_t i = from; i < place; ++i) {
    if ((above(i) < 0) == (above(i + 1) < 0)) continue;
    ++crossings;
    at = static_cast<double>(i) + above(i) / (above(i) - above(i + 1));
  }
  return crossings == 1;
}

template <class T>
void check_cross(double scale) {
  for (std::uint64_t seed = 1; seed <= 5; ++seed) {
    const Sliced<T> s = sliced<T>(scale, 0.02 * static_cast<double>(seed - 1), seed);
    const std::size_t n = s.places.size();
    REQUIRE(n > 500);
    std::vector<double> first_at;
    on_each_target([&] {
      std::vector<double> at(n, -1.0);
      std::vector<float> step(n, -1.0F);
      kernels::cross(s.x.data(), {s.places, s.level, s.first_rises}, s.hysteresis, at.data(), step.data());
      std::size_t told = 0;
      for (std::size_t k = 0; k < n; ++k) {
        double truth = 0;
        const bool can = plain_cross(s, k, truth);
        told += step[k] > 0 ? 1 : 0;
        INFO("edge " << k << " of " << n);
        if (step[k] > 0) REQUIRE(can);
        // The last few and the first one may be left to the caller.
        if (can && k + 16 < n) REQUIRE(step[k] > 0);
        // A float holds 24 bits of what lies between two samples; the quotient takes two of them.
        if (step[k] > 0) REQUIRE(std::abs(at[k] - truth) < std::ldexp(1.0, -22));
        if (step[k] <= 0) at[k] = 0;
      }
      CHECK(told > n / 2);
      at.resize(n - 16);
      if (first_at.empty()) first_at = at;
      CHECK(at == first_at);
    });
  }
}

template <class T>
void check_move(double scale) {
  const Sliced<T> s = sliced<T>(scale, 0.01, 9);
  const std::size_t n = s.places.size();
  std::vector<double> at(n);
  std::vector<float> step(n), rises(n);
  kernels::cross(s.x.data(), {s.places, s.level, s.first_rises}, s.hysteresis, at.data(), step.data());
  base::Random random(4, "rises");
  for (float& rise : rises) rise = static_cast<float>(scale * random.uniform(-0.2, 0.2));
  on_each_target([&] {
    auto new_at = at;
    auto new_step = step, new_level = s.level;
    std::vector<std::uint32_t> undone(n);
    undone.resize(kernels::move(std::span<const T>(s.x), rises, s.hysteresis,
                                {new_at.data(), new_level.data(), new_step.data(), s.first_rises}, undone.data()));
    CHECK(undone.size() < n / 2);
    for (std::size_t k = 0, u = 0; k < n; ++k) {
      INFO("edge " << k << " of " << n);
      if (u < undone.size() && undone[u] == k) {
        ++u;
        REQUIRE(new_at[k] == at[k]);
        REQUIRE(new_level[k] == s.level[k]);
        REQUIRE(new_step[k] == step[k]);
        continue;
      }
      REQUIRE(new_level[k] == s.level[k] + rises[k]);
      // Now it lies where the line between its two samples crosses the new level.
      const auto base = static_cast<std::size_t>(new_at[k]);
      const double a = static_cast<double>(s.x[base]), b = static_cast<double>(s.x[base + 1]);
      const double crossed = a + (b - a) * (new_at[k] - static_cast<double>(base));
      REQUIRE(crossed == Approx(static_cast<double>(new_level[k])).margin(1e-5 * scale));
      REQUIRE(std::abs(new_at[k] - at[k]) < 2);
    }
  });
}

}  // namespace

TEST_CASE("kernels: extremes and sums are those of a plain loop", "[disc]") {
  check_sums<std::int8_t>(127);
  check_sums<std::int16_t>(32767);
  check_sums<float>(1);
}

TEST_CASE("kernels: the sum of a million samples at the end of the scale does not overflow", "[disc]") {
  const std::vector<std::int16_t> words(1 << 20, -32768);
  const std::vector<std::int8_t> bytes(1 << 20, -128);
  on_each_target([&] {
    CHECK(kernels::block_sums(std::span<const std::int16_t>(words)).sum == -32768.0 * (1 << 20));
    CHECK(kernels::block_sums(std::span<const std::int8_t>(bytes)).sum == -128.0 * (1 << 20));
  });
}

TEST_CASE("kernels: edges are confirmed as sample by sample", "[disc]") {
  check_confirmed<std::int8_t>(127);
  check_confirmed<std::int16_t>(32767);
  check_confirmed<float>(1);
}

TEST_CASE("kernels: levels beyond the codes confirm nothing", "[disc]") {
  const std::vector<std::int8_t> x = signal_of<std::int8_t>(kernels::word, 127, 0, 1);
  on_each_target([&] {
    for (const float level : {-1e9F, 1e9F}) {
      kernels::Polarity polarity;
      std::vector<std::uint32_t> places(kernels::word + 3);
      std::vector<float> levels(places.size());
      CHECK(kernels::confirmed(x.data(), 0, std::span(&level, 1), 5, polarity, places.data(), levels.data()) == 0);
    }
  });
}

TEST_CASE("kernels: crossings lie where double precision has them, on every processor the same", "[disc]") {
  check_cross<std::int8_t>(127);
  check_cross<std::int16_t>(32767);
  check_cross<float>(1);
}

TEST_CASE("kernels: an edge moves along the signal, or is left to the caller as it was", "[disc]") {
  check_move<std::int8_t>(127);
  check_move<std::int16_t>(32767);
  check_move<float>(1);
}
