// SPDX-License-Identifier: Apache-2.0
// Every vector width that this processor has against plain loops, and against each other.
#include "core/disc/clock/kernels.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>

#include "tests/core/disc/clock/plain_slicer.hpp"
#include "tests/support/each_target.hpp"

using namespace eyelevel;
using namespace eyelevel::disc::clock;
using support::on_each_target;

namespace {

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

}  // namespace

TEST_CASE("sample kernels: extremes and sums are those of a plain loop", "[disc]") {
  check_sums<std::int8_t>(127);
  check_sums<std::int16_t>(32767);
  check_sums<float>(1);
}

TEST_CASE("sample kernels: the sum of a million samples at the end of the scale does not overflow", "[disc]") {
  const std::vector<std::int16_t> words(1 << 20, -32768);
  const std::vector<std::int8_t> bytes(1 << 20, -128);
  on_each_target([&] {
    CHECK(kernels::block_sums(std::span<const std::int16_t>(words)).sum == -32768.0 * (1 << 20));
    CHECK(kernels::block_sums(std::span<const std::int8_t>(bytes)).sum == -128.0 * (1 << 20));
  });
}

TEST_CASE("sample kernels: edges are confirmed as sample by sample", "[disc]") {
  check_confirmed<std::int8_t>(127);
  check_confirmed<std::int16_t>(32767);
  check_confirmed<float>(1);
}

TEST_CASE("sample kernels: levels beyond the codes confirm nothing", "[disc]") {
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
