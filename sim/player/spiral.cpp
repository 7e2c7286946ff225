// SPDX-License-Identifier: Apache-2.0
#include "sim/player/spiral.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace eyelevel::sim {
namespace {

constexpr double smallest_radius_m = 20e-3;  // nothing is recorded inside the lead-in

}  // namespace

double Spiral::radius_m(double place_s) const {
  // Area swept by the track: pi (r^2 - r0^2) = pitch * velocity * time.
  const double square = program_radius_m * program_radius_m + pitch_m * velocity_m_per_s * place_s / std::numbers::pi;
  return std::sqrt(std::max(square, smallest_radius_m * smallest_radius_m));
}

double Spiral::turns(double place_s) const { return (radius_m(place_s) - program_radius_m) / pitch_m; }

double Spiral::place_of_turns_s(double turns) const {
  const double radius = program_radius_m + turns * pitch_m;
  return (radius * radius - program_radius_m * program_radius_m) * std::numbers::pi / (pitch_m * velocity_m_per_s);
}

double Spiral::turn_s(double place_s) const { return 2 * std::numbers::pi * radius_m(place_s) / velocity_m_per_s; }

}  // namespace eyelevel::sim
