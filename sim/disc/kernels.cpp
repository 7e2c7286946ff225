// SPDX-License-Identifier: Apache-2.0
// Plain loops: each is compiled once for each set of vector registers, and the best one is called.
#include "sim/disc/kernels.hpp"

#include <algorithm>
#include <cmath>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/disc/kernels.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace eyelevel::sim::kernels::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

void add_scaled_rows(float* HWY_RESTRICT out, const float* HWY_RESTRICT row, const float* HWY_RESTRICT next,
                     std::size_t count, float share, float scale) {
  for (std::size_t i = 0; i < count; ++i) out[i] += scale * (row[i] + share * (next[i] - row[i]));
}

float highest_of(const float* values, std::size_t count) {
  // Several at a time: the order of comparisons is nobody's business, but the compiler may not know that.
  constexpr std::size_t lanes = 32;
  float highest[lanes] = {};
  std::size_t i = 0;
  for (; i + lanes <= count; i += lanes)
    for (std::size_t k = 0; k < lanes; ++k) {
      const float a = std::fabs(values[i + k]);
      highest[k] = a > highest[k] ? a : highest[k];
    }
  for (; i < count; ++i) highest[0] = std::max(highest[0], std::fabs(values[i]));
  return *std::max_element(highest, highest + lanes);
}

// From the end, so that each value is still there when the next one needs it.
void mix_with_one_before(float* HWY_RESTRICT values, std::size_t count, float now, float before, float first) {
  const hn::ScalableTag<float> d;
  const std::size_t lanes = hn::Lanes(d);
  std::size_t left = count;
  for (; left > lanes; left -= lanes) {
    float* at = values + left - lanes;
    hn::StoreU(hn::MulAdd(hn::Set(d, now), hn::LoadU(d, at), hn::Mul(hn::Set(d, before), hn::LoadU(d, at - 1))), d, at);
  }
  for (; left > 0; --left) values[left - 1] = now * values[left - 1] + before * (left > 1 ? values[left - 2] : first);
}

// Sixteen at a time: what they make of each other is a product with powers of `keep`, and nothing but one number waits
// for the sixteen before.
void run_pole(Pole& pole, float* HWY_RESTRICT values, std::size_t count) {
  constexpr std::size_t block = 16;
  constexpr float nothing = 1e-30F;  // of a value; the next powers would be slow to reckon with
  if (count == 0) return;
  float powers[2 * block] = {};  // none for what comes later, then those from 0 on
  powers[block] = 1;
  for (std::size_t k = block + 1; k < 2 * block; ++k)
    powers[k] = powers[k - 1] * pole.keep < nothing ? 0 : powers[k - 1] * pole.keep;
  const float last = values[count - 1];
  mix_with_one_before(values, count, pole.now, pole.before, pole.input);
  pole.input = last;
  const hn::CappedTag<float, block> d;
  const std::size_t lanes = hn::Lanes(d);
  float output = pole.output;
  std::size_t done = 0;
  for (; done + block <= count; done += block) {
    const float* from = values + done;
    const auto left = hn::Set(d, pole.keep * output);
    alignas(64) float out[block];
    for (std::size_t k = 0; k < block; k += lanes) {
      auto even = hn::Zero(d), odd = hn::Zero(d);
      for (std::size_t i = 0; i < block; i += 2) {
        even = hn::MulAdd(hn::Set(d, from[i]), hn::LoadU(d, powers + block - i + k), even);
        odd = hn::MulAdd(hn::Set(d, from[i + 1]), hn::LoadU(d, powers + block - i - 1 + k), odd);
      }
      const auto sum = hn::Add(even, odd);
      if (k + lanes == block) output = hn::ExtractLane(sum, lanes - 1) + pole.keep * output * powers[2 * block - 1];
      hn::Store(hn::MulAdd(left, hn::LoadU(d, powers + block + k), sum), d, out + k);
    }
    for (std::size_t k = 0; k < block; k += lanes) hn::StoreU(hn::Load(d, out + k), d, values + done + k);
  }
  for (; done < count; ++done) values[done] = output = pole.keep * output + values[done];
  pole.output = output;
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

void add_noise_of_4(std::uint32_t* HWY_RESTRICT state, float* HWY_RESTRICT values, std::size_t count, float scale) {
  for (std::size_t from = 0; from + noise_lanes <= count; from += noise_lanes)
    for (std::size_t i = 0; i < noise_lanes; ++i) values[from + i] += scale * static_cast<float>(four_bytes(state[i]));
}

// Rounded down by a conversion of a positive number, which costs no call.
void to_codes(const float* HWY_RESTRICT values, std::int8_t* HWY_RESTRICT codes, std::size_t count) {
  for (std::size_t i = 0; i < count; ++i) {
    const float above = values[i] + 128.0F;
    const float at_least = above > 0.0F ? above : 0.0F;
    codes[i] = static_cast<std::int8_t>(static_cast<std::int32_t>(at_least < 255.0F ? at_least : 255.0F) - 128);
  }
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
HWY_EXPORT(highest_of);
HWY_EXPORT(run_pole);
HWY_EXPORT(add_noise_of_4);
HWY_EXPORT(to_codes);
HWY_EXPORT(saturate_a_little);
HWY_EXPORT(noise_of_8);
}  // namespace

void add_scaled_rows(std::span<float> out, const float* row, const float* next, float share, float scale) {
  HWY_DYNAMIC_DISPATCH(add_scaled_rows)(out.data(), row, next, out.size(), share, scale);
}
float highest_of(std::span<const float> values) {
  return HWY_DYNAMIC_DISPATCH(highest_of)(values.data(), values.size());
}
void run(Pole& pole, std::span<float> values) { HWY_DYNAMIC_DISPATCH(run_pole)(pole, values.data(), values.size()); }
void add_noise_of_4(NoiseState state, std::span<float> values, float scale) {
  HWY_DYNAMIC_DISPATCH(add_noise_of_4)(state.data(), values.data(), values.size(), scale);
}
void to_codes(std::span<const float> values, std::span<std::int8_t> codes) {
  HWY_DYNAMIC_DISPATCH(to_codes)(values.data(), codes.data(), codes.size());
}
void saturate_a_little(std::span<float> volts, float limit) {
  HWY_DYNAMIC_DISPATCH(saturate_a_little)(volts.data(), volts.size(), limit);
}
void noise_of_8(NoiseState first, NoiseState second, std::span<float> values, float scale) {
  HWY_DYNAMIC_DISPATCH(noise_of_8)(first.data(), second.data(), values.data(), values.size(), scale);
}

}  // namespace eyelevel::sim::kernels
#endif
