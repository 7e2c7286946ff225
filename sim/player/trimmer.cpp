// SPDX-License-Identifier: Apache-2.0
#include "sim/player/trimmer.hpp"

#include <algorithm>
#include <cmath>

namespace eyelevel::sim {

Trimmer::Trimmer(const TrimmerTraits& traits, double wiper_deg, base::Random chance)
    : traits_(traits),
      screw_deg_(std::clamp(wiper_deg, 0.0, traits.travel_deg)),
      wiper_deg_(screw_deg_),
      chance_(chance) {}

void Trimmer::turn_clockwise(double angle_deg) {
  if (!std::isfinite(angle_deg) || angle_deg == 0) return;
  double turn_deg = traits_.clockwise_raises ? -angle_deg : angle_deg;
  // The screw's own ends; a turn against an end stays there.
  const double before_deg = wiper_deg_;
  double reached_deg = std::clamp(screw_deg_ + turn_deg, 0.0, traits_.travel_deg);
  const double half_play_deg = traits_.backlash_deg / 2;
  const auto follow = [&](double screw) {
    wiper_deg_ = std::clamp(wiper_deg_, screw - half_play_deg, screw + half_play_deg);
    wiper_deg_ = std::clamp(wiper_deg_, 0.0, traits_.travel_deg);
  };
  follow(reached_deg);
  turn_deg = reached_deg - screw_deg_;
  if (std::abs(turn_deg) > 2 * traits_.spring_back_deg) {
    reached_deg -= std::copysign(traits_.spring_back_deg, turn_deg);
    follow(reached_deg);
  }
  screw_deg_ = reached_deg;
  if (wiper_deg_ != before_deg) contact_error_ = chance_.normal(0, traits_.contact_noise);
}

double Trimmer::clean_track(double wiper_deg) const {
  const double dead = traits_.dead_end_deg;
  return std::clamp(wiper_deg, dead, traits_.travel_deg - dead) / traits_.travel_deg;
}

double Trimmer::resistance_at_ohm(double wiper_deg) const {
  return traits_.fixed_ohm + traits_.track_ohm * clean_track(wiper_deg);
}

double Trimmer::resistance_ohm() const {
  return traits_.fixed_ohm + traits_.track_ohm * clean_track(wiper_deg_) * (1 + contact_error_);
}

double Trimmer::steepness_per_deg() const {
  const bool on_track = wiper_deg_ >= traits_.dead_end_deg && wiper_deg_ <= traits_.travel_deg - traits_.dead_end_deg;
  return on_track ? traits_.track_ohm / traits_.travel_deg / resistance_ohm() : 0;
}

double Trimmer::angle_for(double setting) const {
  const double wanted_ohm = resistance_at_ohm(traits_.right_deg) / setting;
  const double angle_deg = (wanted_ohm - traits_.fixed_ohm) / traits_.track_ohm * traits_.travel_deg;
  return std::clamp(angle_deg, traits_.dead_end_deg, traits_.travel_deg - traits_.dead_end_deg);
}

}  // namespace eyelevel::sim
