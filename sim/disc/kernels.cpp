// SPDX-License-Identifier: Apache-2.0
// Plain loops: each is compiled once for each set of vector registers, and the best one is called.
#include "sim/disc/kernels.hpp"

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/disc/kernels.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace eyelevel::sim::kernels::HWY_NAMESPACE {

void add_scaled_rows(float* HWY_RESTRICT out, const float* HWY_RESTRICT row, const float* HWY_RESTRICT next,
                     std::size_t count, float share, float scale) {
  for (std::size_t i = 0; i < count; ++i) out[i] += scale * (row[i] + share * (next[i] - row[i]));
}

void saturate_a_little(float* volts, std::size_t count, float limit) {
  constexpr float first = 1.0F / 16, second = 17.0F / 512, third = 187.0F / 8192;
  const float per_limit = 1 / limit;
  for (std::size_t i = 0; i < count; ++i) {
    const float r = volts[i] * per_limit;
    const float r2 = r * r, r4 = r2 * r2, r8 = r4 * r4, t = r8 * r8;
    volts[i] *= 1 - t * (first - t * (second - t * third));
  }
}

HWY_INLINE std::int32_t four_bytes(std::uint32_t& state) {
  std::uint32_t x = state;
  x ^= x << 13U;
  x ^= x >> 17U;
  x ^= x << 5U;
  state = x;
  const std::uint32_t pairs = (x & 0x00FF00FFU) + ((x >> 8U) & 0x00FF00FFU);
  return static_cast<std::int32_t>((pairs & 0xFFFFU) + (pairs >> 16U)) - 510;
}

void noise_of_8(std::uint32_t* HWY_RESTRICT first, std::uint32_t* HWY_RESTRICT second, float* HWY_RESTRICT values,
                std::size_t count, float scale) {
  for (std::size_t from = 0; from + noise_lanes <= count; from += noise_lanes)
    for (std::size_t i = 0; i < noise_lanes; ++i)
      values[from + i] = scale * static_cast<float>(four_bytes(first[i]) + four_bytes(second[i]));
}

}  // namespace eyelevel::sim::kernels::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace eyelevel::sim::kernels {
namespace {
HWY_EXPORT(add_scaled_rows);
HWY_EXPORT(saturate_a_little);
HWY_EXPORT(noise_of_8);
}  // namespace

void add_scaled_rows(std::span<float> out, const float* row, const float* next, float share, float scale) {
  HWY_DYNAMIC_DISPATCH(add_scaled_rows)(out.data(), row, next, out.size(), share, scale);
}
void saturate_a_little(std::span<float> volts, float limit) {
  HWY_DYNAMIC_DISPATCH(saturate_a_little)(volts.data(), volts.size(), limit);
}
void noise_of_8(NoiseState first, NoiseState second, std::span<float> values, float scale) {
  HWY_DYNAMIC_DISPATCH(noise_of_8)(first.data(), second.data(), values.data(), values.size(), scale);
}

}  // namespace eyelevel::sim::kernels
#endif
