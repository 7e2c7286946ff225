// SPDX-License-Identifier: Apache-2.0
// Signals for the tests of kernels, and their edges found sample by sample.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <type_traits>
#include <vector>

#include "core/base/random.hpp"
#include "core/disc/clock/kernels.hpp"

namespace eyelevel::disc::clock {

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

}  // namespace eyelevel::disc::clock
