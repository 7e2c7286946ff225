// SPDX-License-Identifier: Apache-2.0
#include "core/disc/clock/kernels.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cstring>
#include <limits>
#include <type_traits>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "core/disc/clock/sample_kernels.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace eyelevel::disc::clock::kernels::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

// Adds lanes into running sums that cannot overflow within `rounds_most` rounds, and these up as doubles.
struct SumOfBytes {
  static constexpr std::size_t rounds_most = std::size_t{1} << 40;
  hn::ScalableTag<std::int8_t> d;
  hn::Repartition<std::uint64_t, decltype(d)> du64;
  hn::Vec<decltype(du64)> sum;
  std::size_t rounds = 0;

  SumOfBytes() : sum(hn::Zero(du64)) {}
  void add(hn::Vec<decltype(d)> x) {
    const hn::RebindToUnsigned<decltype(d)> du;
    sum = hn::Add(sum, hn::SumsOf8(hn::Xor(hn::BitCast(du, x), hn::Set(du, 0x80))));  // 0 to 255
    ++rounds;
  }
  double total() const {
    const auto all = static_cast<double>(hn::GetLane(hn::SumOfLanes(du64, sum)));
    return all - 128.0 * static_cast<double>(rounds * hn::Lanes(d));
  }
};

struct SumOfWords {
  static constexpr std::size_t rounds_most = 16384;  // of at most 65536 each
  hn::ScalableTag<std::int16_t> d;
  hn::Repartition<std::int32_t, decltype(d)> d32;
  hn::Vec<decltype(d32)> sum;

  SumOfWords() : sum(hn::Zero(d32)) {}
  void add(hn::Vec<decltype(d)> x) {
    const auto low = hn::ShiftRight<16>(hn::ShiftLeft<16>(hn::BitCast(d32, x)));
    sum = hn::Add(sum, hn::Add(low, hn::ShiftRight<16>(hn::BitCast(d32, x))));
  }
  double total() const {
    HWY_ALIGN std::int32_t lanes[HWY_MAX_BYTES / 4];
    hn::Store(sum, d32, lanes);
    double all = 0;
    for (std::size_t i = 0; i < hn::Lanes(d32); ++i) all += lanes[i];
    return all;
  }
};

struct SumOfFloats {
  static constexpr std::size_t rounds_most = std::size_t{1} << 40;
  hn::ScalableTag<float> d;
  hn::Repartition<double, decltype(d)> d64;
  hn::Vec<decltype(d64)> sum;

  SumOfFloats() : sum(hn::Zero(d64)) {}
  void add(hn::Vec<decltype(d)> x) {
    const hn::Half<decltype(d)> half;
    sum = hn::Add(sum, hn::Add(hn::PromoteTo(d64, hn::LowerHalf(half, x)), hn::PromoteTo(d64, hn::UpperHalf(half, x))));
  }
  double total() const { return hn::GetLane(hn::SumOfLanes(d64, sum)); }
};

template <class T, class Sum>
BlockSums<T> sums_of(std::span<const T> x) {
  const hn::ScalableTag<T> d;
  const std::size_t lanes = hn::Lanes(d), whole = x.size() / lanes * lanes;
  BlockSums<T> sums{x[0], x[0], 0};
  if (whole > 0) {
    auto low = hn::LoadU(d, x.data()), high = low;
    for (std::size_t i = 0; i < whole;) {
      Sum sum;
      const std::size_t end = std::min(whole, i + std::min(whole, Sum::rounds_most) * lanes);
      for (; i < end; i += lanes) {
        const auto v = hn::LoadU(d, x.data() + i);
        low = hn::Min(low, v);
        high = hn::Max(high, v);
        sum.add(v);
      }
      sums.sum += sum.total();
    }
    std::array<T, HWY_MAX_BYTES / sizeof(T)> lows, highs;
    hn::StoreU(low, d, lows.data());
    hn::StoreU(high, d, highs.data());
    // What is left of many lanes: sixteen bytes by vectors, then one by one.
    const hn::CappedTag<T, 16 / sizeof(T)> few;
    auto few_low = hn::LoadU(few, lows.data()), few_high = hn::LoadU(few, highs.data());
    for (std::size_t k = hn::Lanes(few); k < lanes; k += hn::Lanes(few)) {
      few_low = hn::Min(few_low, hn::LoadU(few, lows.data() + k));
      few_high = hn::Max(few_high, hn::LoadU(few, highs.data() + k));
    }
    hn::StoreU(few_low, few, lows.data());
    hn::StoreU(few_high, few, highs.data());
    for (std::size_t k = 0; k < hn::Lanes(few); ++k) {
      sums.low = std::min(sums.low, lows[k]);
      sums.high = std::max(sums.high, highs[k]);
    }
  }
  for (std::size_t i = whole; i < x.size(); ++i) {
    sums.low = std::min(sums.low, x[i]);
    sums.high = std::max(sums.high, x[i]);
    sums.sum += static_cast<double>(x[i]);
  }
  return sums;
}

BlockSums<std::int8_t> sums_of_int8(std::span<const std::int8_t> x) { return sums_of<std::int8_t, SumOfBytes>(x); }
BlockSums<std::int16_t> sums_of_int16(std::span<const std::int16_t> x) { return sums_of<std::int16_t, SumOfWords>(x); }
BlockSums<float> sums_of_float(std::span<const float> x) { return sums_of<float, SumOfFloats>(x); }

// What the samples of some words are compared with: above `high`, below `low`.
template <class T>
struct Bounds {
  static constexpr std::size_t most = 64;  // words
  std::array<T, most> high, low;
};
template <class T>
void find_bounds(std::span<const float> levels, float hysteresis, Bounds<T>& bounds) {
  if constexpr (std::is_floating_point_v<T>) {
    for (std::size_t w = 0; w < levels.size(); ++w) {
      bounds.high[w] = levels[w] + hysteresis;
      bounds.low[w] = levels[w] - hysteresis;
    }
  } else {
    // Whole codes: x > level means x > the next one below, x < level means x < the next one above.
    const hn::ScalableTag<float> d;
    const hn::Rebind<std::int32_t, decltype(d)> d32;
    const hn::Rebind<T, decltype(d)> dt;
    const auto least = hn::Set(d, std::numeric_limits<T>::lowest()), most = hn::Set(d, std::numeric_limits<T>::max());
    const auto band = hn::Set(d, hysteresis);
    std::array<float, Bounds<T>::most> padded{};
    std::copy(levels.begin(), levels.end(), padded.begin());
    for (std::size_t w = 0; w < levels.size(); w += hn::Lanes(d)) {
      const auto level = hn::LoadU(d, padded.data() + w);
      const auto high = hn::Floor(hn::Clamp(hn::Add(level, band), least, most));
      const auto low = hn::Ceil(hn::Clamp(hn::Sub(level, band), least, most));
      hn::StoreU(hn::DemoteTo(dt, hn::ConvertTo(d32, high)), dt, bounds.high.data() + w);
      hn::StoreU(hn::DemoteTo(dt, hn::ConvertTo(d32, low)), dt, bounds.low.data() + w);
    }
  }
}

// A word's samples above `high` and below `low`, one bit each.
struct Masks {
  std::uint64_t above = 0, below = 0;
};
template <class T>
Masks compare(const T* x, T high, T low) {
  const hn::CappedTag<T, word> d;
  const std::size_t lanes = hn::Lanes(d);
  const auto top = hn::Set(d, high), bottom = hn::Set(d, low);
  Masks masks;
  for (std::size_t i = 0; i < word; i += lanes) {
    const auto v = hn::LoadU(d, x + i);
    std::array<std::uint8_t, 16> above{}, below{};
    hn::StoreMaskBits(d, hn::Gt(v, top), above.data());
    hn::StoreMaskBits(d, hn::Lt(v, bottom), below.data());
    std::uint64_t a = 0, b = 0;
    std::memcpy(&a, above.data(), sizeof a);
    std::memcpy(&b, below.data(), sizeof b);
    const std::uint64_t used = lanes < word ? (std::uint64_t{1} << lanes) - 1 : ~std::uint64_t{0};
    masks.above |= (a & used) << i;
    masks.below |= (b & used) << i;
  }
  return masks;
}

template <class T>
std::size_t find_confirmed(const T* x, std::uint32_t base, std::span<const float> levels, float hysteresis,
                           Polarity& polarity, std::uint32_t* places, float* levels_there) {
  std::size_t count = 0;
  std::uint64_t high = polarity.high ? 1 : 0;
  Bounds<T> bounds;
  for (std::size_t w = 0; w < levels.size(); ++w) {
    const std::size_t at = w % bounds.most;
    if (at == 0) find_bounds(levels.subspan(w, std::min(bounds.most, levels.size() - w)), hysteresis, bounds);
    const Masks masks = compare(x + w * word, bounds.high[at], bounds.low[at]);
    if (!polarity.known) {
      const std::uint64_t either = masks.above | masks.below;
      if (either == 0) continue;
      polarity.known = true;
      high = masks.above >> std::countr_zero(either) & 1;
    }
    // A sample is high if it is above, or not below and the one before is high: the carry of an addition.
    const std::uint64_t carry_on = ~masks.below, sum = carry_on + masks.above + high;
    const std::uint64_t carry_in = carry_on ^ masks.above ^ sum;
    const std::uint64_t carry_out = (carry_on & masks.above) | ((carry_on | masks.above) & ~sum);
    std::uint64_t changes = ((carry_in >> 1) | (carry_out >> 63 << 63)) ^ carry_in;
    high = carry_out >> 63;
    const auto first = base + static_cast<std::uint32_t>(w * word);
    // Few words hold more than four edges; those that hold fewer write what the next one overwrites.
    const auto here = static_cast<std::size_t>(std::popcount(changes));
    const hn::FixedTag<float, 4> d4;
    const auto level = hn::Set(d4, levels[w]);
    for (std::size_t done = 0; done == 0 || done < here; done += 4) {
      for (std::size_t k = 0; k < 4; ++k) {
        places[count + done + k] = first + static_cast<std::uint32_t>(std::countr_zero(changes));
        changes &= changes - 1;
      }
      hn::StoreU(level, d4, levels_there + count + done);
    }
    count += here;
  }
  polarity.high = high != 0;
  return count;
}

std::size_t confirmed_int8(const std::int8_t* x, std::uint32_t base, std::span<const float> levels, float hysteresis,
                           Polarity& polarity, std::uint32_t* places, float* levels_there) {
  return find_confirmed(x, base, levels, hysteresis, polarity, places, levels_there);
}
std::size_t confirmed_int16(const std::int16_t* x, std::uint32_t base, std::span<const float> levels, float hysteresis,
                            Polarity& polarity, std::uint32_t* places, float* levels_there) {
  return find_confirmed(x, base, levels, hysteresis, polarity, places, levels_there);
}
std::size_t confirmed_float(const float* x, std::uint32_t base, std::span<const float> levels, float hysteresis,
                            Polarity& polarity, std::uint32_t* places, float* levels_there) {
  return find_confirmed(x, base, levels, hysteresis, polarity, places, levels_there);
}

}  // namespace eyelevel::disc::clock::kernels::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace eyelevel::disc::clock::kernels {

HWY_EXPORT(sums_of_int8);
HWY_EXPORT(sums_of_int16);
HWY_EXPORT(sums_of_float);
HWY_EXPORT(confirmed_int8);
HWY_EXPORT(confirmed_int16);
HWY_EXPORT(confirmed_float);

BlockSums<std::int8_t> block_sums(std::span<const std::int8_t> x) { return HWY_DYNAMIC_DISPATCH(sums_of_int8)(x); }
BlockSums<std::int16_t> block_sums(std::span<const std::int16_t> x) { return HWY_DYNAMIC_DISPATCH(sums_of_int16)(x); }
BlockSums<float> block_sums(std::span<const float> x) { return HWY_DYNAMIC_DISPATCH(sums_of_float)(x); }

std::size_t confirmed(const std::int8_t* x, std::uint32_t base, std::span<const float> levels, float hysteresis,
                      Polarity& polarity, std::uint32_t* places, float* levels_there) {
  return HWY_DYNAMIC_DISPATCH(confirmed_int8)(x, base, levels, hysteresis, polarity, places, levels_there);
}
std::size_t confirmed(const std::int16_t* x, std::uint32_t base, std::span<const float> levels, float hysteresis,
                      Polarity& polarity, std::uint32_t* places, float* levels_there) {
  return HWY_DYNAMIC_DISPATCH(confirmed_int16)(x, base, levels, hysteresis, polarity, places, levels_there);
}
std::size_t confirmed(const float* x, std::uint32_t base, std::span<const float> levels, float hysteresis,
                      Polarity& polarity, std::uint32_t* places, float* levels_there) {
  return HWY_DYNAMIC_DISPATCH(confirmed_float)(x, base, levels, hysteresis, polarity, places, levels_there);
}

}  // namespace eyelevel::disc::clock::kernels
#endif  // HWY_ONCE
