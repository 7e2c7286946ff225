// SPDX-License-Identifier: Apache-2.0
// Every vector width that this processor has against plain loops, and against each other.
#include "core/disc/clock/kernels.hpp"

#include <catch2/catch.hpp>

#include <cmath>

#include "tests/core/disc/clock/plain_slicer.hpp"
#include "tests/support/each_target.hpp"

using namespace eyelevel;
using namespace eyelevel::disc::clock;
using support::on_each_target;

namespace {

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

// All edges but the first one, which has none before.
template <class T>
void cross(const Sliced<T>& s, std::vector<double>& at, std::vector<float>& step) {
  step[0] = 0;
  kernels::cross(s.x.data(), {s.places, std::span(s.level).subspan(1), !s.first_rises}, s.hysteresis, at.data() + 1,
                 step.data() + 1);
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
      cross(s, at, step);
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
  cross(s, at, step);
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

TEST_CASE("edge kernels: crossings lie where double precision has them, on every processor the same", "[disc]") {
  check_cross<std::int8_t>(127);
  check_cross<std::int16_t>(32767);
  check_cross<float>(1);
}

TEST_CASE("edge kernels: an edge moves along the signal, or is left to the caller as it was", "[disc]") {
  check_move<std::int8_t>(127);
  check_move<std::int16_t>(32767);
  check_move<float>(1);
}

TEST_CASE("edge kernels: edges slide to and fro in turn as their levels rise", "[disc]") {
  base::Random random(5, "rises");
  for (const std::size_t n : {1U, 7U, 16U, 33U, 64U}) {
    std::vector<float> rises(n), level(n, 3.0F);
    std::vector<double> at(n);
    for (std::size_t k = 0; k < n; ++k) {
      rises[k] = static_cast<float>(random.uniform(-1, 1));
      at[k] = 1000.0 + 20.0 * static_cast<double>(k);
    }
    on_each_target([&] {
      auto new_at = at;
      auto new_level = level;
      kernels::slide(rises, 0.25, new_at.data(), new_level.data());
      for (std::size_t k = 0; k < n; ++k) {
        REQUIRE(new_level[k] == level[k] + rises[k]);
        REQUIRE(new_at[k] == at[k] + (k % 2 == 0 ? 0.25 : -0.25) * static_cast<double>(rises[k]));
      }
    });
  }
}

TEST_CASE("edge kernels: runs of each window are summed up, even less odd, without those of no length", "[disc]") {
  constexpr std::size_t window = 64;
  base::Random random(6, "runs");
  for (const std::size_t edges : {2U, 17U, 64U, 65U, 200U}) {
    std::vector<double> at = {10};
    std::vector<std::uint8_t> length;
    for (std::size_t k = 0; k + 1 < edges; ++k) {
      at.push_back(at.back() + random.uniform(5, 60));
      length.push_back(static_cast<std::uint8_t>(random.below(12)));
    }
    length.push_back(0);
    const std::size_t windows = (edges + window - 1) / window;
    std::vector<kernels::WindowRuns> plain(windows);
    for (std::size_t k = 0; k + 1 < edges; ++k) {
      if (length[k] == 0) continue;
      const double sign = k % 2 == 0 ? 1 : -1;
      plain[k / window].samples += sign * (at[k + 1] - at[k]);
      plain[k / window].bits += sign * length[k];
      plain[k / window].count += 1;
    }
    on_each_target([&] {
      std::vector<kernels::WindowRuns> found(windows);
      kernels::sum_runs(at, length, window, found);
      for (std::size_t w = 0; w < windows; ++w) {
        INFO("window " << w << " of " << edges << " edges");
        // In another order: one part in 1e12 of the sum of 64 runs of at most 60 samples.
        REQUIRE(std::abs(found[w].samples - plain[w].samples) <= 1e-12 * window * 60);
        REQUIRE(found[w].bits == plain[w].bits);
        REQUIRE(found[w].count == plain[w].count);
      }
    });
  }
}
