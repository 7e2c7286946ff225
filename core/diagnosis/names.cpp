// SPDX-License-Identifier: Apache-2.0
#include "core/diagnosis/names.hpp"

#include <algorithm>
#include <array>

namespace eyelevel::diagnosis {

namespace {

constexpr std::array all_causes{
    Cause{"healthy", "no fault"},
    Cause{"worn_laser_loop", "laser worn"},
    Cause{"worn_laser_no_loop", "laser worn"},
    Cause{"level_high", "level set too high"},
    Cause{"level_low", "level set too low"},
    Cause{"lens_dirty", "lens dirty"},
    Cause{"mirror_dirty", "mirror dirty"},
    Cause{"focus_offset", "focus offset"},
    Cause{"focus_gain", "focus gain"},
    Cause{"tracking_balance", "tracking balance"},
    Cause{"radial_tilt", "radial tilt"},
    Cause{"spindle_eccentric", "spindle eccentric"},
    Cause{"spindle_bearing", "spindle bearing worn"},
    Cause{"disc_scratched", "disc scratched"},
    Cause{"disc_dirty", "disc dirty"},
    Cause{"disc_weak", "disc weak"},
    Cause{"disc_wrong_kind", "disc of the wrong kind"},
    Cause{"pad_after_agc", "pad after the gain control"},
    Cause{"probe_factor", "probe factor wrong"},
    Cause{"probe_compensation", "probe not compensated"},
    Cause{"ground_on_reference", "ground on the reference node"},
    Cause{"ac_coupling", "input a.c. coupled"},
    Cause{"hum_loop", "ground loop"},
    Cause{"meter_range", "meter on the wrong range"},
    Cause{"wiper_open", "trimmer's wiper open"},
};

bool always(const Situation&) { return true; }
bool with_service_data(const Situation& s) { return s.has_service_data; }
// Downwards only, so that a level which is too high already is no bar.
bool with_laser_current(const Situation& s) { return s.knows_series_resistor && s.has_trimmer; }
bool with_trimmer(const Situation& s) { return s.has_trimmer; }
// Where the chassis may be live, nobody takes a lead off between player and bench.
bool isolated(const Situation& s) { return s.has_isolated_mains == true; }

std::vector<Evidence> all_evidences() {
  return {
      {"level",
       "the level",
       {{"none", "there is no eye"},
        {"wild", "the level is off by a factor of three or more"},
        {"low", "the level lies below the reference"},
        {"ok", "the level is that of the reference"},
        {"high", "the level lies above the reference"}}},
      {"top",
       "the top level",
       {{"none", "the top level cannot be had"},
        {"low", "the top level lies below the reference"},
        {"ok", "the top level is that of the reference"},
        {"high", "the top level lies above the reference"}}},
      {"rise",
       "the rise of the d.c. level",
       {{"none", "the rise of the d.c. level cannot be had"},
        {"low", "the d.c. level rises less than the reference"},
        {"ok", "the d.c. level rises as the reference does"},
        {"high", "the d.c. level rises more than the reference"}}},
      {"rise_over_level",
       "the rise of the d.c. level over the level",
       {{"none", "the rise over the level cannot be had"},
        {"low", "the d.c. level rises little for this level"},
        {"ok", "the d.c. level rises as this level wants it"},
        {"high", "the d.c. level rises much for this level"}}},
      {"i3_over_i11",
       "I3/I11",
       {{"none", "I3/I11 cannot be had"},
        {"low", "I3/I11 lies below the reference"},
        {"ok", "I3/I11 is that of the reference"},
        {"high", "I3/I11 lies above the reference"}}},
      {"asymmetry",
       "the asymmetry",
       {{"none", "the asymmetry cannot be had"},
        {"ok", "the asymmetry is that of the reference"},
        {"off", "the asymmetry is not that of the reference"}}},
      {"jitter",
       "the jitter",
       {{"none", "the jitter cannot be had"},
        {"ok", "the jitter is that of a good unit"},
        {"raised", "the jitter is raised"},
        {"bad", "the jitter is bad"}}},
      {"c1",
       "the C1 errors",
       {{"none", "C1 errors cannot be counted"},
        {"ok", "there are few C1 errors"},
        {"raised", "there are more C1 errors than a good disc has"},
        {"bad", "there are as many C1 errors as make discs skip"}}},
      {"ripple",
       "the ripple of the level",
       {{"none", "the ripple of the level cannot be had"},
        {"ok", "the level is steady"},
        {"once", "the level swings with the turns of the disc"},
        {"other", "the level moves, but not with the turns of the disc"}}},
      {"focus",
       "the focus search",
       {{"one", "it focuses at the first try"},
        {"several", "it focuses after several tries"},
        {"fails", "it does not focus"}}},
      {"laser_current",
       "the laser current",
       {{"none", "there is no laser current"},
        {"low", "the laser current lies below the label"},
        {"ok", "the laser current is that of the label"},
        {"high", "the laser current lies above the label"}}},
      {"discs",
       "other discs",
       {{"alike", "all discs behave alike"},
        {"one", "only this disc is bad"},
        {"pressed", "pressed discs are the worst"},
        {"weak", "weakly reflecting discs are the worst"}}},
      {"trimmer",
       "what the trimmer did",
       {{"follows", "the level follows the trimmer"},
        {"flat", "the level does not follow the trimmer"},
        {"jumpy", "the level jumps when the trimmer is turned"}}},
      {"threshold",
       "the laser's threshold",
       {{"normal", "the laser's threshold is that of a good one"}, {"raised", "the laser's threshold is raised"}},
       Check{"With the power off, connect a floating meter across the driver's series resistor (model sheet). Measure "
             "level and laser current, turn the level down by about a fifth, player off for the turn, measure both "
             "again and turn back. From both follows the current at which the laser begins to light. Is that threshold "
             "normal or raised? Never turn up for this, never unplug the pickup while it is on",
             with_laser_current}},
      {"clean_lens",
       "cleaning the lens",
       {{"no", "cleaning the lens did not help"}, {"helps", "cleaning the lens helped"}},
       Check{"With the player off, clean the lens with a dry swab, then with a drop of alcohol, without pressing; "
             "measure again. Did it help?",
             always}},
      {"clean_mirror",
       "cleaning the mirror",
       {{"no", "cleaning the mirror did not help"}, {"helps", "cleaning the mirror helped"}},
       Check{
           "With the player off, clean the mirror below the lens, only if it can be reached without taking the pickup "
           "apart; measure again. Did it help?",
           always, "clean_lens"}},
      {"focus_sweep",
       "the jitter over the focus offset",
       {{"centred", "the jitter is least where the focus offset stands"},
        {"aside", "the jitter is least at another focus offset"},
        {"flat", "the jitter hardly depends on the focus offset"}},
       Check{"As the maker's service data say, move the focus offset a little to both sides and back to where it "
             "stood, and measure the jitter at each place. Is the jitter least where the offset stood (centred), at "
             "another place (aside), or the same everywhere (flat)?",
             with_service_data}},
      {"loop_gain",
       "the gain of the focus loop",
       {{"normal", "the gain of the focus loop is normal"}, {"wrong", "the gain of the focus loop is wrong"}},
       Check{"As the maker's service data say, measure the gain of the focus loop, without turning anything. Is it "
             "normal or wrong?",
             with_service_data}},
      {"traverse",
       "the swing with open tracking",
       {{"even", "the swing with open tracking is even"}, {"uneven", "the swing with open tracking is uneven"}},
       Check{"As the maker's service data say, open the tracking loop and look at the tracking error signal: does it "
             "swing alike to both sides (even) or not (uneven)?",
             with_service_data}},
      {"radius",
       "inner against outer tracks",
       {{"alike", "inner and outer tracks are alike"}, {"differs", "inner and outer tracks differ"}},
       Check{"Measure the jitter on the first and on the last track of the disc. Is it alike or does it differ?",
             always}},
      {"turn_disc",
       "turning the disc on the spindle",
       {{"neither", "what is seen does not turn with the disc"},
        {"disc", "what is seen turns with the disc"},
        {"spindle", "what is seen stays with the spindle"}},
       Check{"Mark disc and spindle, play, then stop the player, put the disc back half a turn further and play again. "
             "Does the fault stay at the mark of the disc (disc), at that of the spindle (spindle), or at neither?",
             always}},
      {"spindle_feel",
       "the spindle by hand",
       {{"good", "the spindle turns without play"}, {"bad", "the spindle has play or scrapes"}},
       Check{"With the player unplugged and the disc taken out, move the spindle sideways and turn it by hand. Is it "
             "good, or bad (play, scraping)?",
             always}},
      {"look_at_disc",
       "the disc by eye",
       {{"clean", "the disc looks clean"}, {"scratch", "the disc is scratched"}, {"dirt", "the disc is dirty"}},
       Check{"Take the disc out and look at its lower side against the light. Is it clean, or is there a scratch or "
             "dirt?",
             always}},
      {"disc_record",
       "the record of the disc",
       {{"right", "the disc is the one it is taken for"}, {"other", "the disc is another one, or of another kind"}},
       Check{"Compare the disc with the list of test discs: kind, label, contents. Is it the right one, or another?",
             always}},
      {"readback",
       "the settings read back",
       {{"right", "the settings are right"},
        {"probe", "the probe factor is not the one of the probe"},
        {"coupling", "the input is a.c. coupled"},
        {"range", "the range is wrong"}},
       Check{"Read the settings of the instruments back and compare them with the switch on the probe. Are they right, "
             "or is one wrong: the probe factor (probe), the coupling or the range?",
             always}},
      {"square_wave",
       "the probe at the square wave",
       {{"square", "the probe shows a square wave as it is"}, {"tilted", "the probe tilts a square wave"}},
       Check{"With the player off, take the probe to the oscilloscope's compensation output. Is what it shows square, "
             "or tilted?",
             always}},
      {"clip",
       "where the ground clip sits",
       {{"right", "the ground clip sits on the circuit's ground"},
        {"wrong", "the ground clip does not sit on the circuit's ground"}},
       Check{"With the player unplugged, follow the ground lead: does its clip sit on the circuit's ground (right), or "
             "on the reference node or anywhere else (wrong)?",
             always}},
      {"one_ground",
       "leaving a single ground",
       {{"stays", "the ripple stays with a single ground"}, {"leaves", "the ripple leaves with a single ground"}},
       Check{"With the player off, take off all leads between player and bench but the probe; leave every protective "
             "earth where it is. Measure the ripple again: does it stay, or does it leave?",
             isolated}},
      {"wiper_sweep",
       "the trimmer's resistance over its way",
       {{"smooth", "the trimmer's resistance changes smoothly"}, {"jumps", "the trimmer's resistance jumps"}},
       Check{"With the player unplugged and discharged, put an ohmmeter with a test voltage of 0.2 V at most across "
             "the trimmer, never across the laser; note where it stands, turn it a little to both sides with an "
             "insulated driver, and back. Is the change smooth, or does it jump?",
             with_trimmer}},
  };
}

template <class List>
std::optional<std::size_t> find(const List& list, std::string_view id) {
  const auto it = std::find_if(list.begin(), list.end(), [&](const auto& one) { return one.id == id; });
  if (it == list.end()) return std::nullopt;
  return static_cast<std::size_t>(it - list.begin());
}

}  // namespace

std::span<const Cause> causes() { return all_causes; }

std::span<const Evidence> evidences() {
  static const std::vector<Evidence> all = all_evidences();
  return all;
}

std::optional<std::size_t> find_cause(std::string_view id) { return find(causes(), id); }
std::optional<std::size_t> find_evidence(std::string_view id) { return find(evidences(), id); }
std::optional<std::size_t> find_value(const Evidence& evidence, std::string_view id) {
  return find(evidence.values, id);
}

}  // namespace eyelevel::diagnosis
