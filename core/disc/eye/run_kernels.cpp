// SPDX-License-Identifier: Apache-2.0
#include "core/disc/eye/run_kernels.hpp"

#include <algorithm>
#include <array>

#include "core/disc/efm/code.hpp"

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "core/disc/eye/run_kernels.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include "core/disc/clock/gather.inl"

HWY_BEFORE_NAMESPACE();
namespace eyelevel::disc::eye::kernels::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;
using clock::kernels::HWY_NAMESPACE::Floats;
using clock::kernels::HWY_NAMESPACE::FloatTag;
using clock::kernels::HWY_NAMESPACE::Four;
using clock::kernels::HWY_NAMESPACE::gather;
using clock::kernels::HWY_NAMESPACE::IndexTag;
using clock::kernels::HWY_NAMESPACE::Indices;
using clock::kernels::HWY_NAMESPACE::split;

constexpr std::size_t lanes_most = HWY_MAX_BYTES / sizeof(float);

Indices load_lengths(const std::uint8_t* lengths) {
  const IndexTag di;
  return hn::PromoteTo(di, hn::LoadU(hn::Rebind<std::uint8_t, IndexTag>(), lengths));
}

void excess_of(const Runs& runs, float* out) {
  const FloatTag d;
  const hn::Half<FloatTag> half;
  const hn::Repartition<double, FloatTag> d64;
  const std::size_t lanes = hn::Lanes(d), wide = hn::Lanes(d64), n = runs.size();
  std::size_t k = 0;
  for (; k + lanes <= n && lanes > 1; k += lanes) {
    const double *start = runs.start.data() + k, *end = runs.end.data() + k;
    const auto low = hn::Sub(hn::LoadU(d64, end), hn::LoadU(d64, start));
    const auto high = hn::Sub(hn::LoadU(d64, end + wide), hn::LoadU(d64, start + wide));
    const Floats run = hn::Combine(d, hn::DemoteTo(half, high), hn::DemoteTo(half, low));
    const Floats bits = hn::Div(run, hn::LoadU(d, runs.period.data() + k));
    hn::StoreU(hn::Sub(bits, hn::ConvertTo(d, load_lengths(runs.length.data() + k))), d, out + k);
  }
  for (; k < n; ++k) {
    out[k] = static_cast<float>(runs.end[k] - runs.start[k]) / runs.period[k] - static_cast<float>(runs.length[k]);
  }
}

// The lanes of one length.
struct LaneSums {
  Floats count, sum, squares;

  LaneSums() : count(hn::Zero(FloatTag())), sum(count), squares(count) {}

  template <class Mask>
  void add(Mask mask, Floats value) {
    const FloatTag d;
    const Floats kept = hn::IfThenElseZero(mask, value);
    count = hn::Add(count, hn::IfThenElseZero(mask, hn::Set(d, 1.0F)));
    sum = hn::Add(sum, kept);
    squares = hn::MulAdd(kept, kept, squares);
  }
  void add_to(Sums& even, Sums& odd) const {
    add_lanes(count, even.count, odd.count);
    add_lanes(sum, even.sum, odd.sum);
    add_lanes(squares, even.squares, odd.squares);
  }

 private:
  static void add_lanes(Floats lanes, double& even, double& odd) {
    const hn::Half<FloatTag> half;
    const hn::Repartition<double, FloatTag> d64;
    const auto low = hn::PromoteTo(d64, hn::LowerHalf(half, lanes));
    const auto all = hn::Add(low, hn::PromoteTo(d64, hn::UpperHalf(half, lanes))), none = hn::Zero(d64);
    even += hn::GetLane(hn::SumOfLanes(d64, hn::OddEven(none, all)));
    odd += hn::GetLane(hn::SumOfLanes(d64, hn::OddEven(all, none)));
  }
};

void add_values_by_length(std::span<const float> values, std::span<const std::uint8_t> lengths, bool first_high,
                          SumsByLength& sums) {
  const FloatTag d;
  const IndexTag di;
  const std::size_t lanes = hn::Lanes(d), n = values.size(), whole = lanes % 2 == 0 ? n / lanes * lanes : 0;
  const std::size_t even_side = first_high ? 1 : 0;
  // Three lengths at a time: so many sums find room in registers.
  static_assert((efm::run_max - efm::run_min + 1) % 3 == 0);
  for (int length = efm::run_min; whole > 0 && length <= efm::run_max; length += 3) {
    const Indices a = hn::Set(di, length), b = hn::Set(di, length + 1), c = hn::Set(di, length + 2);
    LaneSums sums_a, sums_b, sums_c;
    for (std::size_t k = 0; k < whole; k += lanes) {
      const Floats value = hn::LoadU(d, values.data() + k);
      const Indices its = load_lengths(lengths.data() + k);
      sums_a.add(hn::RebindMask(d, hn::Eq(its, a)), value);
      sums_b.add(hn::RebindMask(d, hn::Eq(its, b)), value);
      sums_c.add(hn::RebindMask(d, hn::Eq(its, c)), value);
    }
    const auto l = static_cast<std::size_t>(length);
    auto &even = sums[even_side], &odd = sums[1 - even_side];
    sums_a.add_to(even[l], odd[l]);
    sums_b.add_to(even[l + 1], odd[l + 1]);
    sums_c.add_to(even[l + 2], odd[l + 2]);
  }
  for (std::size_t k = whole; k < n; ++k) {
    if (lengths[k] != 0) sums[(k & 1) == 0 ? even_side : 1 - even_side][lengths[k]].add(static_cast<double>(values[k]));
  }
}

void add_all_values(std::span<const float> values, std::span<const std::uint8_t> lengths, Sums& sums) {
  const FloatTag d;
  const std::size_t lanes = hn::Lanes(d), n = values.size(), whole = lanes % 2 == 0 ? n / lanes * lanes : 0;
  LaneSums all;
  for (std::size_t k = 0; k < whole; k += lanes) {
    const auto used = hn::Gt(load_lengths(lengths.data() + k), hn::Zero(IndexTag()));
    all.add(hn::RebindMask(d, used), hn::LoadU(d, values.data() + k));
  }
  if (whole > 0) all.add_to(sums, sums);
  for (std::size_t k = whole; k < n; ++k) {
    if (lengths[k] != 0) sums.add(static_cast<double>(values[k]));
  }
}

void pick_all_levels(const Runs& runs, std::span<const float> centres, std::span<const std::uint8_t> lengths,
                     int length, float reference, LevelsOfBoth& out) {
  const FloatTag d;
  const IndexTag di;
  const std::size_t lanes = hn::Lanes(d), n = centres.size(), whole = lanes % 2 == 0 ? n / lanes * lanes : 0;
  const Floats zero_at = hn::Set(d, reference);
  const Indices wanted = hn::Set(di, length), none = hn::Zero(di);
  // Locals: what is written might otherwise be one of them.
  std::size_t evens = 0, odds = 0;
  const auto put = [&](auto its, Floats level, Floats above, LevelRows& rows, std::size_t& count) {
    const auto mask = hn::RebindMask(d, hn::Eq(its, wanted));
    hn::StoreU(hn::Compress(level, mask), d, rows.level.data() + count);
    hn::StoreU(hn::Compress(above, mask), d, rows.above.data() + count);
    count += hn::CountTrue(d, mask);
  };
  for (std::size_t k = 0; k < whole; k += lanes) {
    const Indices its = load_lengths(lengths.data() + k);
    const Floats level = hn::Add(hn::LoadU(d, centres.data() + k), zero_at);
    const Floats above = hn::Sub(level, hn::LoadU(d, runs.level.data() + k));
    put(hn::OddEven(none, its), level, above, out.even, evens);
    put(hn::OddEven(its, none), level, above, out.odd, odds);
  }
  for (std::size_t k = whole; k < n; ++k) {
    if (lengths[k] != length) continue;
    LevelRows& rows = k % 2 == 0 ? out.even : out.odd;
    std::size_t& count = k % 2 == 0 ? evens : odds;
    rows.level[count] = centres[k] + reference;
    rows.above[count++] = centres[k] + reference - runs.level[k];
  }
  out.even.count = evens;
  out.odd.count = odds;
}

// Lagrange's polynomial through samples at -1, 0, 1 and 2.
Floats cubic(const Four& s, Floats u) {
  const FloatTag d;
  const Floats a = hn::Add(u, hn::Set(d, 1.0F)), c = hn::Sub(u, hn::Set(d, 1.0F)), e = hn::Sub(u, hn::Set(d, 2.0F));
  const Floats uc = hn::Mul(u, c), ae = hn::Mul(a, e);
  const Floats outer = hn::Mul(hn::Sub(hn::Mul(a, s.c), hn::Mul(e, s.z)), uc);
  const Floats inner = hn::Mul(hn::Sub(hn::Mul(c, s.a), hn::Mul(u, s.b)), ae);
  return hn::MulAdd(outer, hn::Set(d, 1.0F / 6), hn::Mul(inner, hn::Set(d, 0.5F)));
}

// From k on; `lanes` runs.
template <class T>
Floats some_centres(std::span<const T> x, const double* start, const double* end) {
  const IndexTag di;
  const hn::Repartition<double, FloatTag> d64;
  std::array<double, lanes_most> middle;
  for (std::size_t i = 0; i < hn::Lanes(FloatTag()); i += hn::Lanes(d64)) {
    const auto both = hn::Add(hn::LoadU(d64, start + i), hn::LoadU(d64, end + i));
    hn::StoreU(hn::Mul(both, hn::Set(d64, 0.5)), d64, middle.data() + i);
  }
  Indices base;
  Floats u;
  split(middle.data(), base, u);
  const Indices last = hn::Set(di, static_cast<std::int32_t>(x.size()) - 1);
  return cubic(gather(x.data(), hn::Min(hn::Max(hn::Add(base, hn::Set(di, 2)), hn::Set(di, 3)), last)), u);
}

template <class T>
void centres_of(std::span<const T> x, const Runs& runs, float reference, float* out) {
  const FloatTag d;
  const std::size_t lanes = hn::Lanes(d), n = runs.size();
  const Floats zero_at = hn::Set(d, reference);
  std::size_t k = 0;
  for (; k + lanes <= n && lanes > 1; k += lanes) {
    hn::StoreU(hn::Sub(some_centres(x, runs.start.data() + k, runs.end.data() + k), zero_at), d, out + k);
  }
  if (k == n) return;
  // Fewer than a vector holds: padded with the first of them.
  std::array<double, lanes_most> start, end;
  std::array<float, lanes_most> rest;
  start.fill(runs.start[k]);
  end.fill(runs.end[k]);
  std::copy(runs.start.begin() + static_cast<std::ptrdiff_t>(k), runs.start.end(), start.begin());
  std::copy(runs.end.begin() + static_cast<std::ptrdiff_t>(k), runs.end.end(), end.begin());
  hn::StoreU(hn::Sub(some_centres(x, start.data(), end.data()), zero_at), d, rest.data());
  std::copy_n(rest.begin(), n - k, out + k);
}

void centres_int8(std::span<const std::int8_t> x, const Runs& runs, float reference, float* out) {
  centres_of(x, runs, reference, out);
}
void centres_int16(std::span<const std::int16_t> x, const Runs& runs, float reference, float* out) {
  centres_of(x, runs, reference, out);
}
void centres_float(std::span<const float> x, const Runs& runs, float reference, float* out) {
  centres_of(x, runs, reference, out);
}

}  // namespace eyelevel::disc::eye::kernels::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace eyelevel::disc::eye {

void Sums::add(double value) {
  count += 1;
  sum += value;
  squares += value * value;
}

double Sums::scatter() const { return count > 0 ? std::max(0.0, squares - sum * sum / count) : 0; }

namespace kernels {

HWY_EXPORT(excess_of);
HWY_EXPORT(add_values_by_length);
HWY_EXPORT(add_all_values);
HWY_EXPORT(pick_all_levels);
HWY_EXPORT(centres_int8);
HWY_EXPORT(centres_int16);
HWY_EXPORT(centres_float);

void excess(const Runs& runs, float* out) { HWY_DYNAMIC_DISPATCH(excess_of)(runs, out); }

void add_by_length(std::span<const float> values, std::span<const std::uint8_t> lengths, bool first_high,
                   SumsByLength& sums) {
  HWY_DYNAMIC_DISPATCH(add_values_by_length)(values, lengths, first_high, sums);
}
void add_all(std::span<const float> values, std::span<const std::uint8_t> lengths, Sums& sums) {
  HWY_DYNAMIC_DISPATCH(add_all_values)(values, lengths, sums);
}

void pick_levels(const Runs& runs, std::span<const float> centres, std::span<const std::uint8_t> lengths, int length,
                 float reference, LevelsOfBoth& out) {
  HWY_DYNAMIC_DISPATCH(pick_all_levels)(runs, centres, lengths, length, reference, out);
}

void centres(std::span<const std::int8_t> x, const Runs& runs, float reference, float* out) {
  HWY_DYNAMIC_DISPATCH(centres_int8)(x, runs, reference, out);
}
void centres(std::span<const std::int16_t> x, const Runs& runs, float reference, float* out) {
  HWY_DYNAMIC_DISPATCH(centres_int16)(x, runs, reference, out);
}
void centres(std::span<const float> x, const Runs& runs, float reference, float* out) {
  HWY_DYNAMIC_DISPATCH(centres_float)(x, runs, reference, out);
}

}  // namespace kernels
}  // namespace eyelevel::disc::eye
#endif  // HWY_ONCE
