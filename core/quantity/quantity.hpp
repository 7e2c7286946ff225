// SPDX-License-Identifier: Apache-2.0
// Numbers with a dimension that the compiler checks: volts plus seconds does not build (tests/compile proves it). For
// values whose dimension is known only when a file is read see text.hpp. The value is in SI units.
#pragma once

#include <compare>

#include "core/quantity/dimension.hpp"

namespace eyelevel::quantity {

template <Dimension D>
class Quantity {
 public:
  static constexpr Dimension dimension = D;

  constexpr Quantity() = default;
  constexpr explicit Quantity(double si) : si_(si) {}

  constexpr double si() const { return si_; }
  constexpr auto operator<=>(const Quantity&) const = default;

  constexpr Quantity operator-() const { return Quantity(-si_); }
  constexpr Quantity& operator+=(Quantity other) { return *this = *this + other; }
  constexpr Quantity& operator-=(Quantity other) { return *this = *this - other; }
  friend constexpr Quantity operator+(Quantity a, Quantity b) { return Quantity(a.si_ + b.si_); }
  friend constexpr Quantity operator-(Quantity a, Quantity b) { return Quantity(a.si_ - b.si_); }
  friend constexpr Quantity operator*(Quantity a, double factor) { return Quantity(a.si_ * factor); }
  friend constexpr Quantity operator*(double factor, Quantity a) { return Quantity(a.si_ * factor); }
  friend constexpr Quantity operator/(Quantity a, double divisor) { return Quantity(a.si_ / divisor); }

 private:
  double si_ = 0;
};

template <Dimension A, Dimension B>
constexpr Quantity<A * B> operator*(Quantity<A> a, Quantity<B> b) {
  return Quantity<A * B>(a.si() * b.si());
}
template <Dimension A, Dimension B>
constexpr Quantity<A / B> operator/(Quantity<A> a, Quantity<B> b) {
  return Quantity<A / B>(a.si() / b.si());
}

using Ratio = Quantity<ratio>;
using Volts = Quantity<voltage>;
using Amperes = Quantity<current>;
using Seconds = Quantity<time>;
using Hertz = Quantity<frequency>;
using Samples = Quantity<samples>;
using SampleRate = Quantity<sample_rate>;
using Ohms = Quantity<resistance>;
using Farads = Quantity<capacitance>;
using Kelvins = Quantity<temperature>;
using Degrees = Quantity<angle>;

}  // namespace eyelevel::quantity
