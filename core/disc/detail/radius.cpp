// SPDX-License-Identifier: Apache-2.0
#include "core/disc/detail/radius.hpp"

#include <cmath>

namespace eyelevel::disc::detail {

std::optional<OnSpiral> on_spiral(double turns_per_s, double time_s) {
  if (!(turns_per_s > 0) || !(time_s >= 0) || !std::isfinite(turns_per_s) || !std::isfinite(time_s))
    return std::nullopt;
  constexpr double program_radius_m = 25e-3, pitch_m = 1.6e-6, radius_most_m = 58.1e-3, radius_least_m = 24.9e-3;
  constexpr double slowest_m_per_s = 1.0, fastest_m_per_s = 1.6;
  const double pi = std::acos(-1.0);
  // v = 2 pi f r, and the track up to r is as long as an annulus is wide: pi (r^2 - r0^2) / pitch = v t. Together
  // r^2 - 2 k r - r0^2 = 0 with k = pitch f t.
  const double k = pitch_m * turns_per_s * time_s;
  const double radius = k + std::sqrt(k * k + program_radius_m * program_radius_m);
  const double velocity = 2 * pi * turns_per_s * radius;
  if (radius < radius_least_m || radius > radius_most_m) return std::nullopt;
  if (velocity < slowest_m_per_s || velocity > fastest_m_per_s) return std::nullopt;
  return OnSpiral{radius, velocity};
}

}  // namespace eyelevel::disc::detail
