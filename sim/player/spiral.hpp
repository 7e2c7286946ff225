// SPDX-License-Identifier: Apache-2.0
// Where on the disc a moment of the recording lies: radius, turn and speed of the spiral at constant linear velocity.
// Place on the disc is counted in seconds of playing at 1x from absolute time 00:00:00 (radius 25 mm); negative in the
// lead-in. ECMA-130 2nd ed. 11.2 to 11.4, 22.3.3.5. The angle follows exactly from the radius: one pitch is one turn.
#pragma once

namespace eyelevel::sim {

struct Spiral {
  double velocity_m_per_s = 1.3;
  double pitch_m = 1.6e-6;
  double program_radius_m = 25e-3;

  double radius_m(double place_s) const;
  // Turns since the beginning of the program; the fraction is the angle.
  double turns(double place_s) const;
  double place_of_turns_s(double turns) const;
  // One turn at 1x, and the speed of rotation at 1x.
  double turn_s(double place_s) const;
  double rotation_hz(double place_s) const { return 1 / turn_s(place_s); }
};

}  // namespace eyelevel::sim
