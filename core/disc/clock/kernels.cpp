// SPDX-License-Identifier: Apache-2.0
#include "core/disc/clock/kernels.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstring>
#include <limits>
#include <type_traits>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "core/disc/clock/kernels.cpp"
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
    for (std::size_t k = 0; k < lanes; ++k) {
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

// The next code from `level` on: downwards (x > code means x > level) or upwards (x < code means x < level).
template <class T, int way>
T code_beside(float level) {
  if constexpr (std::is_floating_point_v<T>) {
    return level;
  } else {
    constexpr float low = std::numeric_limits<T>::lowest(), high = std::numeric_limits<T>::max();
    const float inside = std::clamp(level, low, high);
    const auto code = static_cast<T>(inside);
    const float beyond = inside - static_cast<float>(code);
    return static_cast<T>(code + (beyond * way > 0 ? way : 0));
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
std::size_t find_confirmed(const T* x, std::span<const float> levels, float hysteresis, Polarity& polarity,
                           std::uint32_t* places) {
  std::uint32_t* out = places;
  std::uint64_t high = polarity.high ? 1 : 0;
  for (std::size_t w = 0; w < levels.size(); ++w) {
    const Masks masks =
        compare(x + w * word, code_beside<T, -1>(levels[w] + hysteresis), code_beside<T, 1>(levels[w] - hysteresis));
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
    const auto base = static_cast<std::uint32_t>(w * word);
    // Few words hold more than four edges; those that hold fewer write what the next one overwrites.
    const int count = std::popcount(changes);
    for (int done = 0; done == 0 || done < count; done += 4) {
      for (int k = 0; k < 4; ++k) {
        out[done + k] = base + static_cast<std::uint32_t>(std::countr_zero(changes));
        changes &= changes - 1;
      }
    }
    out += count;
  }
  polarity.high = high != 0;
  return static_cast<std::size_t>(out - places);
}

std::size_t confirmed_int8(const std::int8_t* x, std::span<const float> levels, float hysteresis, Polarity& polarity,
                           std::uint32_t* places) {
  return find_confirmed(x, levels, hysteresis, polarity, places);
}
std::size_t confirmed_int16(const std::int16_t* x, std::span<const float> levels, float hysteresis, Polarity& polarity,
                            std::uint32_t* places) {
  return find_confirmed(x, levels, hysteresis, polarity, places);
}
std::size_t confirmed_float(const float* x, std::span<const float> levels, float hysteresis, Polarity& polarity,
                            std::uint32_t* places) {
  return find_confirmed(x, levels, hysteresis, polarity, places);
}

using FloatTag = hn::ScalableTag<float>;
using IndexTag = hn::RebindToSigned<FloatTag>;
using Floats = hn::Vec<FloatTag>;
using Indices = hn::Vec<IndexTag>;

// The samples at i - 3 to i, where i is 3 or more.
struct Four {
  Floats z, a, b, c;
};
Four gather(const std::int8_t* x, Indices i) {
  const FloatTag d;
  const IndexTag di;
  const auto all = hn::GatherOffset(di, reinterpret_cast<const std::int32_t*>(x), hn::Sub(i, hn::Set(di, 3)));
  return {hn::ConvertTo(d, hn::ShiftRight<24>(hn::ShiftLeft<24>(all))),
          hn::ConvertTo(d, hn::ShiftRight<24>(hn::ShiftLeft<16>(all))),
          hn::ConvertTo(d, hn::ShiftRight<24>(hn::ShiftLeft<8>(all))), hn::ConvertTo(d, hn::ShiftRight<24>(all))};
}
Four gather(const std::int16_t* x, Indices i) {
  const FloatTag d;
  const IndexTag di;
  const auto* base = reinterpret_cast<const std::int32_t*>(x);
  const auto first = hn::GatherOffset(di, base, hn::ShiftLeft<1>(hn::Sub(i, hn::Set(di, 3))));
  const auto second = hn::GatherOffset(di, base, hn::ShiftLeft<1>(hn::Sub(i, hn::Set(di, 1))));
  return {hn::ConvertTo(d, hn::ShiftRight<16>(hn::ShiftLeft<16>(first))), hn::ConvertTo(d, hn::ShiftRight<16>(first)),
          hn::ConvertTo(d, hn::ShiftRight<16>(hn::ShiftLeft<16>(second))),
          hn::ConvertTo(d, hn::ShiftRight<16>(second))};
}
Four gather(const float* x, Indices i) {
  const FloatTag d;
  const IndexTag di;
  return {hn::GatherIndex(d, x, hn::Sub(i, hn::Set(di, 3))), hn::GatherIndex(d, x, hn::Sub(i, hn::Set(di, 2))),
          hn::GatherIndex(d, x, hn::Sub(i, hn::Set(di, 1))), hn::GatherIndex(d, x, i)};
}

void store_sum(Indices whole, Floats part, double* at) {
  const hn::Half<FloatTag> half;
  const hn::Half<IndexTag> half_index;
  const hn::Repartition<double, FloatTag> d64;
  const std::size_t lanes = hn::Lanes(d64);
  hn::StoreU(
      hn::Add(hn::PromoteTo(d64, hn::LowerHalf(half_index, whole)), hn::PromoteTo(d64, hn::LowerHalf(half, part))), d64,
      at);
  hn::StoreU(
      hn::Add(hn::PromoteTo(d64, hn::UpperHalf(half_index, whole)), hn::PromoteTo(d64, hn::UpperHalf(half, part))), d64,
      at + lanes);
}

template <class T>
void cross_some(const T* x, Indices i, Indices before, Floats level, Floats sign, float hysteresis, double* at,
                float* step) {
  const FloatTag d;
  const IndexTag di;
  const Indices three = hn::Set(di, 3);
  const auto in_reach = hn::And(hn::Gt(i, hn::Add(before, hn::Set(di, 2))), hn::Gt(i, hn::Set(di, 2)));
  const Four samples = gather(x, hn::Max(i, three));
  const auto above = [&](Floats sample) { return hn::Mul(hn::Sub(sample, level), sign); };
  const Floats z = above(samples.z), a = above(samples.a), b = above(samples.b), c = above(samples.c);
  // Nearly always the band is crossed within three steps, and its middle once.
  const Floats zero = hn::Zero(d), bottom = hn::Set(d, -hysteresis);
  const auto late = hn::Lt(b, zero), a_low = hn::Lt(a, zero);
  const auto from_z = hn::Le(z, bottom), from_a = hn::Le(a, bottom), from_b = hn::Le(b, bottom);
  const auto late_is_clear = hn::Or(hn::Or(from_b, from_a), hn::And(from_z, a_low));
  const auto is_one_step = hn::And(hn::RebindMask(d, in_reach),
                                   hn::Or(hn::And(late, late_is_clear), hn::AndNot(late, hn::Or(from_a, from_z))));
  const Floats from = hn::IfThenElse(late, b, hn::IfThenElse(a_low, a, z));
  const Floats to = hn::IfThenElse(late, c, hn::IfThenElse(a_low, b, a));
  const Floats rise = hn::Sub(to, from);
  const Floats part = hn::Div(from, hn::Sub(from, to));
  const Indices back = hn::IfThenElse(hn::RebindMask(di, a_low), hn::Set(di, 2), three);
  const Indices whole = hn::Sub(i, hn::IfThenElse(hn::RebindMask(di, late), hn::Set(di, 1), back));
  store_sum(whole, part, at);
  hn::StoreU(hn::IfThenElseZero(is_one_step, rise), d, step);
}

template <class T>
void cross_all(const T* x, const Confirmed& edges, float hysteresis, double* at, float* step) {
  const FloatTag d;
  const IndexTag di;
  const std::size_t lanes = hn::Lanes(d), n = edges.places.size();
  constexpr std::size_t lanes_most = HWY_MAX_BYTES / sizeof(float);
  std::array<float, lanes_most> signs;
  for (std::size_t k = 0; k < lanes; ++k) signs[k] = (k % 2 == 0) == edges.first_rises ? 1.0F : -1.0F;
  const Floats sign = hn::LoadU(d, signs.data());
  const auto* places = reinterpret_cast<const std::int32_t*>(edges.places.data());
  std::size_t k = 1;  // the first one has none before it
  if (n > 0) step[0] = 0;
  if (lanes % 2 == 0) {
    const Floats other = hn::Neg(sign);
    for (; k + lanes <= n; k += lanes) {
      cross_some(x, hn::LoadU(di, places + k), hn::LoadU(di, places + k - 1), hn::LoadU(d, edges.levels.data() + k),
                 other, hysteresis, at + k, step + k);
    }
  }
  for (; k < n; ++k) step[k] = 0;  // fewer than a vector holds
}

void cross_int8(const std::int8_t* x, const Confirmed& edges, float hysteresis, double* at, float* step) {
  cross_all(x, edges, hysteresis, at, step);
}
void cross_int16(const std::int16_t* x, const Confirmed& edges, float hysteresis, double* at, float* step) {
  cross_all(x, edges, hysteresis, at, step);
}
void cross_float(const float* x, const Confirmed& edges, float hysteresis, double* at, float* step) {
  cross_all(x, edges, hysteresis, at, step);
}

// Whole part and rest of places that are not negative.
void split(const double* at, Indices& whole, Floats& part) {
  const FloatTag d;
  const IndexTag di;
  const hn::Half<FloatTag> half;
  const hn::Half<IndexTag> half_index;
  const hn::Repartition<double, FloatTag> d64;
  const auto low = hn::LoadU(d64, at), high = hn::LoadU(d64, at + hn::Lanes(d64));
  const auto whole_low = hn::DemoteTo(half_index, low), whole_high = hn::DemoteTo(half_index, high);
  whole = hn::Combine(di, whole_high, whole_low);
  part = hn::Combine(d, hn::DemoteTo(half, hn::Sub(high, hn::PromoteTo(d64, whole_high))),
                     hn::DemoteTo(half, hn::Sub(low, hn::PromoteTo(d64, whole_low))));
}

// A vector of edges from the k-th on; answers a bit for each that is not done.
template <class T>
std::uint64_t move_some(std::span<const T> x, const float* rises, Floats sign, float hysteresis, const Moved& edges) {
  const FloatTag d;
  const IndexTag di;
  Indices base;
  Floats part;
  split(edges.at, base, part);
  const Floats zero = hn::Zero(d), one = hn::Set(d, 1.0F);
  const Floats step = hn::LoadU(d, edges.step), rise = hn::LoadU(d, rises);
  const Floats level = hn::Add(hn::LoadU(d, edges.level), rise);
  const Floats moved = hn::Add(part, hn::Div(hn::Mul(sign, rise), step));
  const auto single = hn::Gt(step, zero);
  const auto stays = hn::And(hn::Ge(moved, zero), hn::Lt(moved, one));

  const Indices last = hn::Set(di, static_cast<std::int32_t>(x.size()) - 3);
  const auto inside = hn::And(hn::Gt(base, hn::Zero(di)), hn::Gt(last, base));
  const Four samples = gather(x.data(), hn::Add(hn::Min(hn::Max(base, hn::Set(di, 1)), last), hn::Set(di, 2)));
  const auto later = hn::Ge(moved, one);
  const auto above = [&](Floats sample) { return hn::Mul(hn::Sub(sample, level), sign); };
  const Floats a = above(hn::IfThenElse(later, samples.b, samples.z));
  const Floats b = above(hn::IfThenElse(later, samples.c, samples.a));
  const Floats beside_step = hn::Sub(b, a);
  const auto crosses = hn::And(hn::And(hn::Lt(a, zero), hn::Ge(b, zero)), hn::Ge(beside_step, hn::Set(d, hysteresis)));
  const auto beside = hn::And(hn::RebindMask(d, inside), crosses);
  const auto done = hn::And(single, hn::Or(stays, beside));

  const Indices away = hn::IfThenElse(hn::RebindMask(di, later), hn::Set(di, 1), hn::Set(di, -1));
  const Indices new_base = hn::Add(base, hn::IfThenElseZero(hn::RebindMask(di, hn::Not(stays)), away));
  const Floats new_part = hn::IfThenElse(stays, moved, hn::Div(a, hn::Sub(a, b)));
  const std::size_t lanes = hn::Lanes(d);
  std::array<double, HWY_MAX_BYTES / sizeof(float)> before;
  std::memcpy(before.data(), edges.at, lanes * sizeof(double));
  store_sum(new_base, new_part, edges.at);
  std::array<std::uint8_t, 16> mask{};
  hn::StoreMaskBits(d, done, mask.data());
  std::uint64_t all_done = 0;
  std::memcpy(&all_done, mask.data(), sizeof all_done);
  hn::StoreU(hn::IfThenElse(done, level, hn::LoadU(d, edges.level)), d, edges.level);
  hn::StoreU(hn::IfThenElse(done, hn::IfThenElse(stays, step, beside_step), step), d, edges.step);
  const std::uint64_t left = ~all_done & ((std::uint64_t{1} << lanes) - 1);
  for (std::uint64_t bits = left; bits != 0; bits &= bits - 1) {
    const auto k = static_cast<std::size_t>(std::countr_zero(bits));
    edges.at[k] = before[k];
  }
  return left;
}

template <class T>
std::size_t move_all(std::span<const T> x, std::span<const float> rises, float hysteresis, const Moved& edges,
                     std::uint32_t* undone) {
  const FloatTag d;
  const std::size_t lanes = hn::Lanes(d), n = rises.size();
  std::array<float, HWY_MAX_BYTES / sizeof(float)> signs;
  for (std::size_t k = 0; k < lanes; ++k) signs[k] = (k % 2 == 0) == edges.first_rises ? 1.0F : -1.0F;
  const Floats sign = hn::LoadU(d, signs.data());
  std::size_t count = 0, k = 0;
  if (lanes % 2 == 0 && x.size() > 8) {
    for (; k + lanes <= n; k += lanes) {
      std::uint64_t left = move_some(x, rises.data() + k, sign, hysteresis,
                                     {edges.at + k, edges.level + k, edges.step + k, edges.first_rises});
      for (; left != 0; left &= left - 1) {
        undone[count++] = static_cast<std::uint32_t>(k) + static_cast<std::uint32_t>(std::countr_zero(left));
      }
    }
  }
  for (; k < n; ++k) undone[count++] = static_cast<std::uint32_t>(k);  // fewer than a vector holds
  return count;
}

std::size_t move_int8(std::span<const std::int8_t> x, std::span<const float> rises, float hysteresis,
                      const Moved& edges, std::uint32_t* undone) {
  return move_all(x, rises, hysteresis, edges, undone);
}
std::size_t move_int16(std::span<const std::int16_t> x, std::span<const float> rises, float hysteresis,
                       const Moved& edges, std::uint32_t* undone) {
  return move_all(x, rises, hysteresis, edges, undone);
}
std::size_t move_float(std::span<const float> x, std::span<const float> rises, float hysteresis, const Moved& edges,
                       std::uint32_t* undone) {
  return move_all(x, rises, hysteresis, edges, undone);
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
HWY_EXPORT(cross_int8);
HWY_EXPORT(cross_int16);
HWY_EXPORT(cross_float);
HWY_EXPORT(move_int8);
HWY_EXPORT(move_int16);
HWY_EXPORT(move_float);

BlockSums<std::int8_t> block_sums(std::span<const std::int8_t> x) { return HWY_DYNAMIC_DISPATCH(sums_of_int8)(x); }
BlockSums<std::int16_t> block_sums(std::span<const std::int16_t> x) { return HWY_DYNAMIC_DISPATCH(sums_of_int16)(x); }
BlockSums<float> block_sums(std::span<const float> x) { return HWY_DYNAMIC_DISPATCH(sums_of_float)(x); }

std::size_t confirmed(const std::int8_t* x, std::span<const float> levels, float hysteresis, Polarity& polarity,
                      std::uint32_t* places) {
  return HWY_DYNAMIC_DISPATCH(confirmed_int8)(x, levels, hysteresis, polarity, places);
}
std::size_t confirmed(const std::int16_t* x, std::span<const float> levels, float hysteresis, Polarity& polarity,
                      std::uint32_t* places) {
  return HWY_DYNAMIC_DISPATCH(confirmed_int16)(x, levels, hysteresis, polarity, places);
}
std::size_t confirmed(const float* x, std::span<const float> levels, float hysteresis, Polarity& polarity,
                      std::uint32_t* places) {
  return HWY_DYNAMIC_DISPATCH(confirmed_float)(x, levels, hysteresis, polarity, places);
}

void cross(const std::int8_t* x, const Confirmed& edges, float hysteresis, double* at, float* step) {
  HWY_DYNAMIC_DISPATCH(cross_int8)(x, edges, hysteresis, at, step);
}
void cross(const std::int16_t* x, const Confirmed& edges, float hysteresis, double* at, float* step) {
  HWY_DYNAMIC_DISPATCH(cross_int16)(x, edges, hysteresis, at, step);
}
void cross(const float* x, const Confirmed& edges, float hysteresis, double* at, float* step) {
  HWY_DYNAMIC_DISPATCH(cross_float)(x, edges, hysteresis, at, step);
}

std::size_t move(std::span<const std::int8_t> x, std::span<const float> rises, float hysteresis, const Moved& edges,
                 std::uint32_t* undone) {
  return HWY_DYNAMIC_DISPATCH(move_int8)(x, rises, hysteresis, edges, undone);
}
std::size_t move(std::span<const std::int16_t> x, std::span<const float> rises, float hysteresis, const Moved& edges,
                 std::uint32_t* undone) {
  return HWY_DYNAMIC_DISPATCH(move_int16)(x, rises, hysteresis, edges, undone);
}
std::size_t move(std::span<const float> x, std::span<const float> rises, float hysteresis, const Moved& edges,
                 std::uint32_t* undone) {
  return HWY_DYNAMIC_DISPATCH(move_float)(x, rises, hysteresis, edges, undone);
}

}  // namespace eyelevel::disc::clock::kernels
#endif  // HWY_ONCE
