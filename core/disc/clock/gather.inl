// SPDX-License-Identifier: Apache-2.0
// Samples around places between them, for the kernels: included once for each set of instructions, after Highway.
#if defined(EYELEVEL_DISC_CLOCK_GATHER_INL) == defined(HWY_TARGET_TOGGLE)
#ifdef EYELEVEL_DISC_CLOCK_GATHER_INL
#undef EYELEVEL_DISC_CLOCK_GATHER_INL
#else
#define EYELEVEL_DISC_CLOCK_GATHER_INL
#endif

#include <hwy/highway.h>

#include <cstdint>

HWY_BEFORE_NAMESPACE();
namespace eyelevel::disc::clock::kernels::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

using FloatTag = hn::ScalableTag<float>;
using IndexTag = hn::RebindToSigned<FloatTag>;
using Floats = hn::Vec<FloatTag>;
using Indices = hn::Vec<IndexTag>;

// The samples at i - 3 to i, where i is 3 or more.
struct Four {
  Floats z, a, b, c;
};
HWY_INLINE Four gather(const std::int8_t* x, Indices i) {
  const FloatTag d;
  const IndexTag di;
  const auto all = hn::GatherOffset(di, reinterpret_cast<const std::int32_t*>(x), hn::Sub(i, hn::Set(di, 3)));
  return {hn::ConvertTo(d, hn::ShiftRight<24>(hn::ShiftLeft<24>(all))),
          hn::ConvertTo(d, hn::ShiftRight<24>(hn::ShiftLeft<16>(all))),
          hn::ConvertTo(d, hn::ShiftRight<24>(hn::ShiftLeft<8>(all))), hn::ConvertTo(d, hn::ShiftRight<24>(all))};
}
HWY_INLINE Four gather(const std::int16_t* x, Indices i) {
  const FloatTag d;
  const IndexTag di;
  const auto* base = reinterpret_cast<const std::int32_t*>(x);
  const auto first = hn::GatherOffset(di, base, hn::ShiftLeft<1>(hn::Sub(i, hn::Set(di, 3))));
  const auto second = hn::GatherOffset(di, base, hn::ShiftLeft<1>(hn::Sub(i, hn::Set(di, 1))));
  return {hn::ConvertTo(d, hn::ShiftRight<16>(hn::ShiftLeft<16>(first))), hn::ConvertTo(d, hn::ShiftRight<16>(first)),
          hn::ConvertTo(d, hn::ShiftRight<16>(hn::ShiftLeft<16>(second))),
          hn::ConvertTo(d, hn::ShiftRight<16>(second))};
}
HWY_INLINE Four gather(const float* x, Indices i) {
  const FloatTag d;
  const IndexTag di;
  return {hn::GatherIndex(d, x, hn::Sub(i, hn::Set(di, 3))), hn::GatherIndex(d, x, hn::Sub(i, hn::Set(di, 2))),
          hn::GatherIndex(d, x, hn::Sub(i, hn::Set(di, 1))), hn::GatherIndex(d, x, i)};
}

// Whole part and rest of places that are not negative.
HWY_INLINE void split(const double* at, Indices& whole, Floats& part) {
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

}  // namespace eyelevel::disc::clock::kernels::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#endif
