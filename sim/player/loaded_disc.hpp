// SPDX-License-Identifier: Apache-2.0
// A disc as it lies on the spindle of one player: clamped with its own eccentricity and turned by a random angle, and
// what the pickup gets from it at each place: the light of settled lands and pits, before the amplifier saturates. Not
// here: channel bits and their blur (sim/disc), the electrical end (pad.hpp). Light is relative to the top level of an
// average pressed disc at the right setting. Places as in schedule.hpp. Immutable after construction.
#pragma once

#include <cstdint>
#include <memory>

#include "core/base/random.hpp"
#include "sim/disc/disc.hpp"
#include "sim/disc/renderer.hpp"
#include "sim/player/parameters.hpp"
#include "sim/player/spiral.hpp"

namespace eyelevel::sim {

// Light of the eye at one place: where settled lands and pits lie, and what is needed to draw the runs between.
struct EyeLight {
  double land = 1;   // light of a wide land (top level)
  double pit = 0.3;  // light of a wide pit
  double i3_over_i11 = 0.5;
  double noise = 0;  // standard deviation in 2 MHz, from the disc's surface and the neighbouring tracks
};

class LoadedDisc {
 public:
  LoadedDisc(std::shared_ptr<const Disc> disc, const PlayerParameters& player, base::Random chance);

  const Disc& disc() const { return *disc_; }
  const std::shared_ptr<const Disc>& shared_disc() const { return disc_; }
  const Spiral& spiral() const { return spiral_; }
  std::uint64_t key() const { return key_; }
  double eccentricity_m() const { return eccentricity_m_; }

  // The eye at a place and an angle (in turns, any number) with the laser at `laser_light` (1 = right).
  EyeLight eye(double place_s, double turns, double laser_light) const;
  // The same where the track now is.
  EyeLight eye(double place_s, double laser_light) const { return eye(place_s, spiral_.turns(place_s), laser_light); }
  // How the runs between the levels look.
  EyeShape shape(const EyeLight& eye) const;
  // Light that comes back relative to a pressed disc at the right setting: what the servos see.
  double servo_light(double laser_light) const { return laser_light * film_ * disc_->light; }
  // By how much the channel runs late because the eccentric disc turns unevenly under the pickup.
  double time_error_s(double turns) const;
  double lens_defocus_um(double turns, double laser_light) const;

 private:
  std::shared_ptr<const Disc> disc_;
  Spiral spiral_;
  std::uint64_t key_;
  double film_;  // both passes
  double short_run_gain_, neighbour_noise_;
  double focus_offset_um_, focus_residual_um_, focus_phase_rad_;
  bool residual_follows_light_;
  double eccentricity_m_, eccentricity_phase_rad_;
};

// Level at the centre of an 11T land on the renderer's scale, all but 1; of a pit the same below zero. Asymmetry
// lengthens the one and shortens the other, which leaves their difference as it is.
double settled_share(double i3_over_i11);

inline constexpr double sections_per_s = 75;  // ECMA-130 2nd ed. 22

}  // namespace eyelevel::sim
