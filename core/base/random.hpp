// SPDX-License-Identifier: Apache-2.0
// Seeded random streams with names: one per simulated thing, so that a draw more in one never shifts another.
// xoshiro256++ (Blackman and Vigna, public domain algorithm) seeded by SplitMix64 over seed and name; the distributions
// are ours because those of the standard library differ between implementations. Same seed, same bytes.
#pragma once

#include <array>
#include <cstdint>
#include <string_view>

namespace eyelevel::base {

class Random {
 public:
  explicit Random(std::uint64_t seed, std::string_view name = {});

  // An independent stream, given by this stream's seed and the name, not by how much was drawn before.
  Random stream(std::string_view name) const { return Random(seed_, name); }

  std::uint64_t bits();                     // 64 random bits
  double uniform();                         // [0, 1)
  double uniform(double low, double high);  // [low, high)
  double normal();                          // mean 0, standard deviation 1
  double normal(double mean, double sd) { return mean + sd * normal(); }
  // Log-normal with the given 5 % and 95 % points; both above zero.
  double log_normal_5_95(double p5, double p95);
  bool chance(double probability) { return uniform() < probability; }
  std::uint64_t below(std::uint64_t n);  // 0 .. n-1, n > 0

 private:
  std::uint64_t seed_;
  std::array<std::uint64_t, 4> state_{};
  double spare_ = 0;
  bool has_spare_ = false;
};

}  // namespace eyelevel::base
