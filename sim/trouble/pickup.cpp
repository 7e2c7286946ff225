// SPDX-License-Identifier: Apache-2.0
// Troubles of the player itself. They act on the physics; what a meter sees of them follows from there. Ranges:
// player's notes on laser, trimmer, optics (design values of common practice, no source).
#include "sim/trouble/trouble.hpp"

namespace eyelevel::sim {
namespace {

// Turns the trimmer to a share of the nominal level drawn from a range.
void set_level(UnitMake& make, base::Random& random, double lowest, double highest) {
  make.player.trimmer_start_deg = trimmer_deg_for_light(make.player, random.uniform(lowest, highest));
}

}  // namespace

void register_pickup_troubles(Troubles& troubles) {
  troubles.add({.name = "level too high",
                .about = "the trimmer stands 20 to 30 % too high: pressed discs begin to fail, the laser ages early",
                .parameters = {},
                .example = "eyelevel rehearse SEQUENCE --trouble 'level too high'"},
               {[](UnitMake& make, base::Random& random) { set_level(make, random, 1.20, 1.30); },
                // A player that does not recognise the disc, so that nobody can say that the track plays.
                {Demand::Ending::by_truth, {base::ErrorCode::no_answer}}});
  troubles.add({.name = "level too low",
                .about = "the trimmer stands 20 to 30 % too low: weak discs are not read",
                .parameters = {},
                .example = "eyelevel rehearse SEQUENCE --trouble 'level too low'"},
               {[](UnitMake& make, base::Random& random) { set_level(make, random, 0.70, 0.80); }, {}});
  troubles.add(
      {.name = "lens dirty",
       .about = "a film on the lens takes a quarter to a third of the light",
       .parameters = {},
       .example = "eyelevel rehearse SEQUENCE --trouble 'lens dirty'"},
      {[](UnitMake& make, base::Random& random) { make.player.film_transmission = random.uniform(0.82, 0.87); }, {}});
  troubles.add({.name = "focus offset",
                .about = "the focus rests 1.5 to 2.5 um beside the best place: I3 falls first, then the level",
                .parameters = {},
                .example = "eyelevel rehearse SEQUENCE --trouble 'focus offset'"},
               {[](UnitMake& make, base::Random& random) { make.player.focus_offset_um = random.uniform(1.5, 2.5); },
                {Demand::Ending::by_truth, {}}});
  troubles.add({.name = "wrong disc",
                .about = "the operator puts in a disc of another kind than the prompt asks for, and says done",
                .parameters = {},
                .example = "eyelevel rehearse SEQUENCE --trouble 'wrong disc'"},
               {[](UnitMake& make, base::Random&) { make.person.mistakes.wrong_disc = 1; }, {Demand::Ending::any, {}}});
  troubles.add({.name = "nobody there",
                .about = "the operator says done and does nothing: no disc ever plays",
                .parameters = {},
                .example = "eyelevel rehearse SEQUENCE --trouble 'nobody there'"},
               {[](UnitMake& make, base::Random&) { make.person.mistakes.untrue_done = 1; },
                {Demand::Ending::stopped, {base::ErrorCode::wait_ran_out}}});
}

}  // namespace eyelevel::sim
