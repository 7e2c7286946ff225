// SPDX-License-Identifier: Apache-2.0
#include "core/disc/clock/smooth.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <cstdint>

#include "core/base/random.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;

TEST_CASE("smoothing: the width is the odd number nearest to a channel bit", "[disc]") {
  CHECK(clock::smoothing_width(1.85) == 1);
  CHECK(clock::smoothing_width(2.6) == 3);
  CHECK(clock::smoothing_width(4.63) == 5);
  CHECK(clock::smoothing_width(23.1) == 23);
  CHECK(clock::smoothing_width(std::nan("")) == 1);
}

TEST_CASE("smoothing: a straight line stays where it is, to the ends", "[disc]") {
  std::vector<std::int16_t> line;
  for (int i = 0; i < 100; ++i) line.push_back(static_cast<std::int16_t>(7 * i - 300));
  const auto smooth = clock::smoothed(std::span<const std::int16_t>(line), 9);
  REQUIRE(smooth.size() == line.size());
  for (std::size_t i = 0; i < line.size(); ++i) CHECK(smooth[i] == Approx(line[i]).margin(1e-3));
}

TEST_CASE("smoothing: white noise falls by the root of the width", "[disc]") {
  base::Random random(7, "noise");
  std::vector<float> noise;
  for (int i = 0; i < 40000; ++i) noise.push_back(static_cast<float>(random.normal()));
  double squares = 0;
  for (const float v : clock::smoothed(std::span<const float>(noise), 9))
    squares += static_cast<double>(v) * static_cast<double>(v);
  CHECK(std::sqrt(squares / 40000) == Approx(1.0 / 3).epsilon(0.05));
}

TEST_CASE("smoothing: an empty record and a single sample pass through", "[disc]") {
  CHECK(clock::smoothed(std::span<const float>(), 5).empty());
  const std::vector<float> one = {2.5F};
  CHECK(clock::smoothed(std::span<const float>(one), 5) == one);
}
