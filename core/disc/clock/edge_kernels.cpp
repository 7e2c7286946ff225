// SPDX-License-Identifier: Apache-2.0
#include "core/disc/clock/kernels.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cstring>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "core/disc/clock/edge_kernels.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include "core/disc/clock/gather.inl"

HWY_BEFORE_NAMESPACE();
namespace eyelevel::disc::clock::kernels::HWY_NAMESPACE {

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

// 1 for each edge that rises, -1 for the others.
Floats signs_in_turn(bool first_rises) {
  const FloatTag d;
  const Floats first = hn::Set(d, first_rises ? 1.0F : -1.0F);
  return hn::OddEven(hn::Neg(first), first);
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
  const std::size_t lanes = hn::Lanes(d), n = edges.levels.size();
  const Floats sign = signs_in_turn(edges.first_rises);
  const auto* before = reinterpret_cast<const std::int32_t*>(edges.places.data());
  std::size_t k = 0;
  const auto some = [&](std::size_t first) {
    cross_some(x, hn::LoadU(di, before + first + 1), hn::LoadU(di, before + first),
               hn::LoadU(d, edges.levels.data() + first), first % 2 == 1 ? hn::Neg(sign) : sign, hysteresis, at + first,
               step + first);
  };
  if (lanes % 2 == 0 && n >= lanes) {
    for (; k + lanes <= n; k += lanes) some(k);
    if (k < n) some(n - lanes);  // some of them once more
    return;
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

  if (hn::AllTrue(d, hn::And(single, stays))) {
    store_sum(base, moved, edges.at);
    hn::StoreU(level, d, edges.level);
    return 0;
  }
  const Indices last = hn::Set(di, static_cast<std::int32_t>(x.size()) - 3);
  const auto inside = hn::And(hn::Gt(base, hn::Zero(di)), hn::Gt(last, base));
  // Those that stay need no samples: they take the first ones, which are at hand.
  const Indices wanted = hn::IfThenElseZero(hn::RebindMask(di, hn::Not(stays)), base);
  const Four samples = gather(x.data(), hn::Add(hn::Min(hn::Max(wanted, hn::Set(di, 1)), last), hn::Set(di, 2)));
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
  const Floats sign = signs_in_turn(edges.first_rises);
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

void slide_all(std::span<const float> rises, double per_code, double* at, float* level) {
  const hn::ScalableTag<double> d;
  const hn::Rebind<float, decltype(d)> df;
  const std::size_t lanes = hn::Lanes(d), n = rises.size();
  const auto step = hn::Set(d, per_code), steps = hn::OddEven(hn::Neg(step), step);
  std::size_t k = 0;
  for (; k + lanes <= n && lanes % 2 == 0; k += lanes) {
    const auto rise = hn::LoadU(df, rises.data() + k);
    hn::StoreU(hn::MulAdd(hn::PromoteTo(d, rise), steps, hn::LoadU(d, at + k)), d, at + k);
    hn::StoreU(hn::Add(hn::LoadU(df, level + k), rise), df, level + k);
  }
  for (; k < n; ++k) {
    at[k] += (k % 2 == 0 ? per_code : -per_code) * static_cast<double>(rises[k]);
    level[k] += rises[k];
  }
}

// `count` runs that begin with an even edge.
WindowRuns sum_of_runs(const double* at, const std::uint8_t* lengths, std::size_t count) {
  const hn::ScalableTag<double> d;
  const hn::Rebind<std::int32_t, decltype(d)> d32;
  const hn::Rebind<std::uint8_t, decltype(d)> d8;
  const std::size_t lanes = hn::Lanes(d);
  const auto one = hn::Set(d, 1.0), sign = hn::OddEven(hn::Neg(one), one);
  auto samples = hn::Zero(d), bits = samples, number = samples;
  std::size_t k = 0;
  for (; k + lanes <= count && lanes % 2 == 0; k += lanes) {
    const auto length = hn::PromoteTo(d, hn::PromoteTo(d32, hn::LoadU(d8, lengths + k)));
    const auto counts = hn::Gt(length, hn::Zero(d));
    const auto run = hn::Sub(hn::LoadU(d, at + k + 1), hn::LoadU(d, at + k));
    samples = hn::MulAdd(hn::IfThenElseZero(counts, run), sign, samples);
    bits = hn::MulAdd(length, sign, bits);
    number = hn::Add(number, hn::IfThenElseZero(counts, one));
  }
  WindowRuns sums{hn::GetLane(hn::SumOfLanes(d, samples)), hn::GetLane(hn::SumOfLanes(d, bits)),
                  hn::GetLane(hn::SumOfLanes(d, number))};
  for (; k < count; ++k) {
    if (lengths[k] == 0) continue;
    const double way = k % 2 == 0 ? 1 : -1;
    sums.samples += way * (at[k + 1] - at[k]);
    sums.bits += way * lengths[k];
    sums.count += 1;
  }
  return sums;
}

void sum_all_runs(std::span<const double> at, std::span<const std::uint8_t> lengths, std::size_t window,
                  std::span<WindowRuns> sums) {
  for (std::size_t w = 0; w < sums.size(); ++w) {
    const std::size_t first = w * window;
    sums[w] = sum_of_runs(at.data() + first, lengths.data() + first, std::min(window, at.size() - 1 - first));
  }
}

}  // namespace eyelevel::disc::clock::kernels::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace eyelevel::disc::clock::kernels {

HWY_EXPORT(cross_int8);
HWY_EXPORT(cross_int16);
HWY_EXPORT(cross_float);
HWY_EXPORT(move_int8);
HWY_EXPORT(move_int16);
HWY_EXPORT(move_float);
HWY_EXPORT(slide_all);
HWY_EXPORT(sum_all_runs);

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

void slide(std::span<const float> rises, double per_code, double* at, float* level) {
  HWY_DYNAMIC_DISPATCH(slide_all)(rises, per_code, at, level);
}

void sum_runs(std::span<const double> at, std::span<const std::uint8_t> lengths, std::size_t window,
              std::span<WindowRuns> sums) {
  HWY_DYNAMIC_DISPATCH(sum_all_runs)(at, lengths, window, sums);
}

}  // namespace eyelevel::disc::clock::kernels
#endif  // HWY_ONCE
