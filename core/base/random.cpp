// SPDX-License-Identifier: Apache-2.0
#include "core/base/random.hpp"

#include <bit>
#include <cmath>

namespace eyelevel::base {
namespace {

std::uint64_t split_mix(std::uint64_t& x) {
  x += 0x9E3779B97F4A7C15U;
  std::uint64_t z = x;
  z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9U;
  z = (z ^ (z >> 27U)) * 0x94D049BB133111EBU;
  return z ^ (z >> 31U);
}

std::uint64_t mixed(std::uint64_t seed, std::string_view name) {
  std::uint64_t hash = 0xCBF29CE484222325U;  // FNV-1a
  for (const char c : name) hash = (hash ^ static_cast<unsigned char>(c)) * 0x100000001B3U;
  std::uint64_t x = seed ^ hash;
  return split_mix(x);
}

}  // namespace

Random::Random(std::uint64_t seed, std::string_view name) : seed_(mixed(seed, name)) {
  std::uint64_t x = seed_;
  for (auto& word : state_) word = split_mix(x);
}

std::uint64_t Random::bits() {
  auto& s = state_;
  const std::uint64_t result = std::rotl(s[0] + s[3], 23) + s[0];
  const std::uint64_t t = s[1] << 17U;
  s[2] ^= s[0];
  s[3] ^= s[1];
  s[1] ^= s[2];
  s[0] ^= s[3];
  s[2] ^= t;
  s[3] = std::rotl(s[3], 45);
  return result;
}

double Random::uniform() { return static_cast<double>(bits() >> 11U) * 0x1.0p-53; }

double Random::uniform(double low, double high) { return low + (high - low) * uniform(); }

double Random::normal() {
  if (has_spare_) {
    has_spare_ = false;
    return spare_;
  }
  // Polar method: exact, and needs no tables.
  for (;;) {
    const double u = 2 * uniform() - 1;
    const double v = 2 * uniform() - 1;
    const double s = u * u + v * v;
    if (s >= 1 || s == 0) continue;
    const double f = std::sqrt(-2 * std::log(s) / s);
    spare_ = v * f;
    has_spare_ = true;
    return u * f;
  }
}

double Random::log_normal_5_95(double p5, double p95) {
  constexpr double z95 = 1.6448536269514722;
  const double middle = 0.5 * (std::log(p5) + std::log(p95));
  const double sigma = (std::log(p95) - std::log(p5)) / (2 * z95);
  return std::exp(middle + sigma * normal());
}

std::uint64_t Random::below(std::uint64_t n) {
  // Rejection of the few values that would favour low results.
  const std::uint64_t limit = UINT64_MAX - UINT64_MAX % n;
  std::uint64_t x = bits();
  while (x >= limit) x = bits();
  return x % n;
}

}  // namespace eyelevel::base
