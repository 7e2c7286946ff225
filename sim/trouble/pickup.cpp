// SPDX-License-Identifier: Apache-2.0
// Troubles of the player itself. They act on the physics; what a meter sees of them follows from there. Ranges:
// player's notes on laser, trimmer, optics (design values of common practice, no source).
#include "sim/trouble/trouble.hpp"

namespace eyelevel::sim {
namespace {

using base::ErrorCode;
using enum Demand::Ending;

// Nothing comes back from any disc.
void put_out(Laser& laser) { laser.slope_25_mw_per_ma *= 1e-6; }

// Turns the trimmer to a share of the nominal level drawn from a range.
void set_level(UnitMake& make, base::Random& random, double lowest, double highest) {
  make.player.trimmer_start_deg = trimmer_deg_for_light(make.player, random.uniform(lowest, highest));
}

void too_high(UnitMake& make, base::Random& random) { set_level(make, random, 1.20, 1.30); }
void too_low(UnitMake& make, base::Random& random) { set_level(make, random, 0.70, 0.80); }
void dead(UnitMake& make, base::Random&) { put_out(make.player.laser); }

// The driver cannot give more than this share of the right light, half warm.
void limit_light(UnitMake& make, double share) {
  LaserDrive& drive = make.player.drive;
  const double middle_c = make.player.ambient_c + make.player.warm_up_k / 2;
  drive.current_limit_ma = make.player.laser.current_ma(share * drive.right_light_mw, middle_c);
}

// Worn so far that the driver cannot give what the trimmer asks for: the light that it can give is short of the right
// one.
void at_its_limit(UnitMake& make, base::Random& random) {
  make.player.laser.threshold_wear = random.uniform(1.4, 1.6);
  limit_light(make, random.uniform(0.6, 0.8));
}

// The light that its driver can give stays so far below the right one that no position of the trimmer is right, on no
// disc and however cold.
void worn_out(UnitMake& make, base::Random& random) { limit_light(make, random.uniform(0.5, 0.62)); }

void dirty(UnitMake& make, base::Random& random) { make.player.film_transmission = random.uniform(0.82, 0.87); }
void out_of_focus(UnitMake& make, base::Random& random) { make.player.focus_offset_um = random.uniform(1.5, 2.5); }
void bad_spindle(UnitMake& make, base::Random& random) {
  make.player.spindle_eccentricity_m = 1e-6 * random.uniform(80, 200);
}
void no_spindle(UnitMake& make, base::Random&) { make.player.spindle_turns = false; }
void bursts(UnitMake& make, base::Random&) { make.player.model.reads_in_bursts = true; }

void at_the_end(UnitMake& make, base::Random& random) {
  make.player.trimmer_start_deg = random.chance(0.5) ? 0 : make.player.trimmer.travel_deg;
}

void open_wiper(UnitMake& make, base::Random&) {
  constexpr double wide_deg = 30;
  make.player.trimmer.open_from_deg = make.player.trimmer_start_deg - wide_deg;
  make.player.trimmer.open_until_deg = make.player.trimmer_start_deg + wide_deg;
}

void stray(UnitMake& make, base::Random& random) { make.player.stray_v = random.uniform(0.3, 0.5); }
void raised(UnitMake& make, base::Random& random) { make.player.reference_error = random.uniform(3, 5); }
void power_cut(UnitMake& make, base::Random& random) { make.player.power_cut_s = random.uniform(5, 60); }

}  // namespace

void register_pickup_troubles(Troubles& troubles) {
  // A player that does not recognise the disc: nobody can say that the track plays.
  const Demand no_light{no_eye, {ErrorCode::wait_ran_out, ErrorCode::no_answer, ErrorCode::time_out}};
  const Demand judged{by_truth, {}};
  const Demand judged_if_it_plays{by_truth, {ErrorCode::no_answer, ErrorCode::wait_ran_out}};
  add(troubles, {{"level too high",
                  "the trimmer stands 20 to 30 % too high: pressed discs begin to fail, the laser ages early",
                  "that the level lies above its limit",
                  {"above", "no eye", "nobody answered"},
                  judged_if_it_plays,
                  too_high},
                 {"level too low",
                  "the trimmer stands 20 to 30 % too low: weak discs are not read",
                  "that the level lies below its limit",
                  {"below", "no eye"},
                  judged,
                  too_low},
                 {"laser dead", "the laser gives no light", "that there is no eye", {"no eye"}, no_light, dead},
                 {"laser at its limit",
                  "the laser is worn and takes all the current that its driver has: the light stays short",
                  "that the level lies below its limit",
                  {"below", "no eye"},
                  judged_if_it_plays,
                  at_its_limit},
                 {"laser worn out",
                  "the driver gives all its current and the light stays at half to two thirds of the right one: no "
                  "position of the trimmer is right",
                  "that the level lies below its limit, or does not follow the trimmer",
                  {"below", "no eye", "does not follow", "no trimmer position"},
                  judged_if_it_plays,
                  worn_out},
                 {"lens dirty",
                  "a film on the lens takes a quarter to a third of the light",
                  "that the level lies below its limit",
                  {"below", "no eye"},
                  judged,
                  dirty},
                 {"focus offset",
                  "the focus rests 1.5 to 2.5 um beside the best place: I3 falls first, then the level",
                  "that the level lies below its limit, or that the focus bobs",
                  {"below", "focus"},
                  judged,
                  out_of_focus},
                 {"spindle eccentric",
                  "the spindle is bent: the track runs 80 to 200 um out of the middle",
                  "that the level is short or does not settle",
                  {"below", "focus", "no lock", "no eye"},
                  judged_if_it_plays,
                  bad_spindle},
                 {"disc does not turn",
                  "the spindle's motor is dead: the player finds focus, waits, and gives up",
                  "that there is no eye",
                  {"no eye"},
                  no_light,
                  no_spindle},
                 {"reads in bursts",
                  "the player reads a bit faster than it plays and stands still in between",
                  "that the disc does not move on as it plays",
                  {"pause or search"},
                  judged_if_it_plays,
                  bursts},
                 {"trimmer at its end",
                  "somebody turned the trimmer to one of its ends",
                  "that the level lies outside its limit",
                  {"below", "above", "no eye", "nobody answered"},
                  judged_if_it_plays,
                  at_the_end},
                 {"wiper open",
                  "the trimmer's wiper has no contact where it stands: the laser gets no current",
                  "that there is no eye",
                  {"no eye"},
                  no_light,
                  open_wiper},
                 {"stray voltage in standby",
                  "the pad shows 0.3 to 0.5 V while the player sleeps",
                  "nothing: it harms nobody",
                  {},
                  judged,
                  stray},
                 {"pad too high",
                  "the amplifier's reference has drifted up: the eye lies beyond the screen",
                  "that captures are clipped",
                  {"clipped", "beyond the screen", "agreement"},
                  {by_truth, {ErrorCode::wait_ran_out}},
                  raised},
                 {"power cut",
                  "the player's plug is pulled 5 to 60 s after the beginning",
                  "that there is no eye any more",
                  {"no eye", "no lock", "settled captures", "disc still turning"},
                  judged_if_it_plays,
                  power_cut}});
}

}  // namespace eyelevel::sim
