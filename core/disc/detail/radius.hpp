// SPDX-License-Identifier: Apache-2.0
// Where the pickup stands and how fast the disc runs past it, from what a capture tells: the turns a second and the
// absolute time. The spiral begins at 25 mm with time 00:00:00, its pitch is 1.6 um and the speed along it the same all
// over the disc (ECMA-130 2nd ed. 11.2 to 11.4, 22.3.3.5), so that two equations hold two unknowns.
#pragma once

#include <optional>

namespace eyelevel::disc::detail {

struct OnSpiral {
  double radius_m = 0;
  double velocity_m_per_s = 0;  // at 1x
};

// `turns_per_s` at 1x, `time_s` of the absolute time. Empty where that is no place on a disc (radius of 25 to 58 mm, a
// tenth of a millimetre to spare; speed of 1.0 to 1.6 m/s: the standard has 1.2 to 1.4).
std::optional<OnSpiral> on_spiral(double turns_per_s, double time_s);

}  // namespace eyelevel::disc::detail
