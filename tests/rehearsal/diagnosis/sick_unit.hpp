// SPDX-License-Identifier: Apache-2.0
// Units with a known cause, and what a technician sees of them: drawn from the simulated physics (sim/player, sim/disc)
// and never from the table of likelihoods, so that counting and scoring are not one and the same. No waveforms: what an
// eye would show is worked out from the read-out, and then read with the errors of instruments and people. A
// simulator's figures, not field accuracy.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "core/base/random.hpp"
#include "core/diagnosis/names.hpp"
#include "core/diagnosis/observe.hpp"
#include "sim/disc/disc.hpp"
#include "sim/player/parameters.hpp"

namespace eyelevel::test {

// The causes for which there is physics, by their ids.
std::vector<std::string_view> causes_with_physics();
// Whether the physics has more to say of this evidence than the slips of whoever looks.
bool is_counted(std::string_view evidence);

struct SickUnit {
  std::string_view cause;
  sim::PlayerParameters player;
  sim::Disc disc, other, weak;  // the one that is measured with, another good one, and one that reflects weakly
  double asked_light = 1;       // by the trimmer, 1 = right
  double lens_film = 1, mirror_film = 1;  // transmission, one pass
  double short_runs = 1;                  // what a film takes of I3 besides
  double focus_gain = 1;                  // of the loop, relative
  double lens_rest_um = 0;                // off the axis, without a track
  double radial_offset_um = 0, radial_tilt_deg = 0;
  double unsteady_um = 0;              // focus that does not keep step with the disc
  double disc_film = 1;                // on this disc alone, at its worst place
  double defects_per_s = 5;            // of the disc
  double expected_light = 1;           // of this disc, by its record
  double probe = 1, compensation = 1;  // what the oscilloscope makes of all, of the alternating part
  bool is_ac_coupled = false, is_dark = false, wiper_jumps = false;
};

SickUnit draw_sick_unit(std::string_view cause, base::Random random);

// What is measured and noticed before anything is asked for.
std::vector<diagnosis::Observation> first_look(const SickUnit& unit, base::Random random);
// What one check shows.
diagnosis::Observation checked(const SickUnit& unit, std::string_view evidence, base::Random random);
// All checks possible.
diagnosis::Situation situation_of(const SickUnit& unit);

}  // namespace eyelevel::test
