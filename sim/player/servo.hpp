// SPDX-License-Identifier: Apache-2.0
// What the player's servos do at a given amount of light: states, how likely focus and loading fail, how long each
// state lasts. x is the light that comes back relative to a pressed disc at the right setting. Not here: which state
// follows which (player.hpp). Figures are design values, not measured on a player.
#pragma once

#include <string_view>

#include "core/base/random.hpp"

namespace eyelevel::sim {

enum class PlayerState {
  off,            // no supply
  standby,        // supply just on, amplifier not yet alive
  no_disc,        // amplifier alive, laser off, no disc found or none there
  stopped,        // disc known, laser off, amplifier alive
  searching,      // laser on, lens moves through focus
  tracking_open,  // focused, disc turns, track not followed
  spin_up,        // track followed, speed not yet right
  contents,       // plays the lead-in
  seeking,        // moves to another place
  playing,
  paused,  // jumps back one track each turn
};

std::string_view name_of(PlayerState state);

// Too little light: probability that one try to focus fails. Gain switching moves the centre from 0.33 to 0.12.
double focus_failure_per_try(double light, bool switches_gain);
// Too much light: probability that one load fails (amplifier saturated, loop gain too high).
double load_failure(double light);
// Skips while playing.
double skips_per_min(double light, bool switches_gain);
// One cycle through the table of contents of a disc with this many tracks: each item three times, 75 a second.
double contents_cycle_s(int tracks);

// Durations of one load or seek, drawn once for each.
struct ServoTimes {
  double wake_s = 0.5;
  double focus_try_s = 0.6;
  double tracking_open_s = 0.6;
  double spin_up_s = 1.0;
  double contents_extra_s = 1.5;  // beyond one cycle of the contents
  double seek_s = 0.8;
};
ServoTimes draw_servo_times(base::Random& chance);
constexpr int focus_tries = 3;

}  // namespace eyelevel::sim
