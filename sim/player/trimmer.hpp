// SPDX-License-Identifier: Apache-2.0
// The small potentiometer that sets the laser: one turn of track with dead ends, a fixed resistor in series, play
// between screw and wiper, and a contact that lands a little differently each time. The light asked for goes with 1/(Rf
// + R). Not here: what the light does (laser.hpp), how well a hand turns (sim/operator). Angles in degrees from the end
// where the resistance is least; a positive turn raises the resistance and lowers the light.
#pragma once

#include <vector>

#include "core/base/random.hpp"

namespace eyelevel::sim {

struct TrimmerTraits {
  double track_ohm = 10e3;
  double fixed_ohm = 1e3;
  double travel_deg = 240;
  double dead_end_deg = 0;       // at each end the resistance stays
  double backlash_deg = 0;       // the screw turns this far before the wiper follows
  double spring_back_deg = 0;    // the screw returns this far after a turn of more than twice that
  double contact_noise = 0;      // standard deviation of the track's resistance, relative, anew at each landing
  double right_deg = 120;        // wiper at the right setting
  bool clockwise_raises = true;  // sense: does a clockwise turn raise the light
  double open_from_deg = 0;      // between these two the wiper has no contact, and the laser gets no current
  double open_until_deg = 0;
};

class Trimmer {
 public:
  // Wiper and screw stand at `wiper_deg`, in the middle of the play.
  Trimmer(const TrimmerTraits& traits, double wiper_deg, base::Random chance);

  // Turns the screw; clockwise is positive. Stops at the ends. Angles that are not finite turn nothing.
  void turn_clockwise(double angle_deg);

  double screw_deg() const { return screw_deg_; }
  double wiper_deg() const { return wiper_deg_; }
  double resistance_ohm() const;
  // Light asked for, relative to the right setting.
  double setting() const { return is_open() ? 0 : resistance_at_ohm(traits_.right_deg) / resistance_ohm(); }
  bool is_open() const { return wiper_deg_ > traits_.open_from_deg && wiper_deg_ < traits_.open_until_deg; }
  // - d ln(setting) / d angle at the wiper, per degree of rising resistance.
  double steepness_per_deg() const;
  const TrimmerTraits& traits() const { return traits_; }

  // Without contact noise.
  double resistance_at_ohm(double wiper_deg) const;
  // The wiper angle at which the setting is `setting`, held within the track.
  double angle_for(double setting) const;

 private:
  double clean_track(double wiper_deg) const;  // share of the track, 0..1

  TrimmerTraits traits_;
  double screw_deg_;
  double wiper_deg_;
  double contact_error_ = 0;
  base::Random chance_;
};

}  // namespace eyelevel::sim
