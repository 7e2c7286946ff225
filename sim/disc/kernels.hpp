// SPDX-License-Identifier: Apache-2.0
// The loops over samples in which the simulator spends its time, for the vector registers of the processor it runs on.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>

namespace eyelevel::sim::kernels {

// out[i] += scale * (row[i] + share * (next[i] - row[i]))
void add_scaled_rows(std::span<float> out, const float* row, const float* next, float share, float scale);

// The largest |v|; 0 where there is none.
float highest_of(std::span<const float> values);

// One pole: y[i] = keep * y[i - 1] + now * x[i] + before * x[i - 1]; keep is 0 to 1.
struct Pole {
  float keep = 0, now = 1, before = 0;
  float input = 0, output = 0;  // the last ones
};
// In place.
void run(Pole& pole, std::span<float> values);

// v / (1 + (v / limit)^16)^(1/16) where |v| is at most 0.8 of the limit: three terms of the series, right to 1e-7.
void saturate_a_little(std::span<float> volts, float limit);

// Marsaglia's 32-bit xorshift (Journal of Statistical Software 8, 14, 2003) in this many lanes beside each other.
inline constexpr std::size_t noise_lanes = 16;
using NoiseState = std::span<std::uint32_t, noise_lanes>;

// values[i] += scale * the sum of four random bytes less its mean; in whole rounds.
void add_noise_of_4(NoiseState state, std::span<float> values, float scale);

// values[i] = scale * the sum of eight random bytes less its mean, four from each state; in whole rounds.
void noise_of_8(NoiseState first, NoiseState second, std::span<float> values, float scale);

// Whole numbers below the values, within what eight bits hold; what is no number is the lowest.
void to_codes(std::span<const float> values, std::span<std::int8_t> codes);

}  // namespace eyelevel::sim::kernels
