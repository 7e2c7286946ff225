// SPDX-License-Identifier: Apache-2.0
#include "tests/rehearsal/diagnosis/sick_unit.hpp"

#include <algorithm>
#include <array>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <memory>
#include <numbers>
#include <optional>

#include "sim/disc/optics.hpp"
#include "sim/player/laser.hpp"
#include "sim/player/pad.hpp"
#include "sim/player/servo.hpp"

namespace eyelevel::test {

namespace {

using diagnosis::Measured;
using diagnosis::observe;
using diagnosis::observe_told;

constexpr double operator_slip =
    0.0175;  // of answers: half careful people, 0.5 % a step, half hasty ones, 3 % (practice)

// Standard deviation of a run's length at 1x, ns, against defocus: the pattern's own share, and per 1 % of noise in the
// level. From a one-dimensional read-out with a fixed slicer (design values).
constexpr std::array defocus_um{0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0};
constexpr std::array pattern_ns{11.8, 12.9, 16.5, 23.2, 34.3, 52.0, 82.0};
constexpr std::array slope_ns{10.7, 10.9, 11.4, 12.5, 14.3, 17.2, 22.0};

double at(const std::array<double, 7>& values, double z_um) {
  const double place = std::min(std::abs(z_um), defocus_um.back()) / 0.5;
  const auto i = std::min(static_cast<std::size_t>(place), values.size() - 2);
  return std::lerp(values[i], values[i + 1], place - static_cast<double>(i));
}

double temperature_c(const SickUnit& u) { return u.player.ambient_c + u.player.warm_up_k / 2; }

sim::OperatingPoint laser_of(const SickUnit& u, double asked) {
  if (u.is_dark) return {};
  const double setting =
      u.player.drive.has_loop ? asked : [&] {  // The trimmer was set while the laser was new: it asks for that current.
        sim::Laser fresh = u.player.laser;
        fresh.threshold_wear = fresh.slope_wear = 1;
        return fresh.current_ma(u.player.drive.right_light_mw * asked, temperature_c(u)) /
               u.player.drive.right_current_ma;
      }();
  return sim::operating_point(u.player.laser, u.player.drive, setting, temperature_c(u));
}

// What there is to be read of a unit with a disc.
struct Sight {
  double level = 0, top = 0, rise = 0;  // volts at the pad, from dark
  double i3_over_i11 = 0, jitter_ns = 0, c1_per_s = 0;
  double once = 0, other = 0;  // peak to peak over the level
  double servo_light = 0;      // relative to a pressed disc at the right setting
};

struct Spot {
  double land, pit, i3_over_i11, jitter_ns;
};

Spot spot_at(const SickUnit& u, const sim::Disc& disc, double laser_light, double angle, double shake_um,
             double radius_mm, double film) {
  const double x = std::clamp(laser_light * film * disc.light, 0.1, 1.0);
  const double residual_um = u.player.focus_residual_um / (x * u.focus_gain);
  const double z_um = u.player.focus_offset_um + residual_um * std::sin(angle) + shake_um;
  constexpr double tilt_of_warp = 3.2;  // degrees per mm at the rim
  const double tilt_deg = u.radial_tilt_deg + disc.warp_mm * tilt_of_warp * radius_mm / 60 * std::sin(angle + 1);
  const sim::ReadOut out =
      sim::read_out({.defocus_um = z_um, .radial_offset_um = u.radial_offset_um, .radial_tilt_deg = tilt_deg});
  const double eccentricity_m = std::hypot(disc.eccentricity_um * 1e-6, u.player.spindle_eccentricity_m);
  // An eccentric track moves the lens off its axis, where it does not rest in the middle; 3 % are lost at 100 um
  // (design value), by the square.
  const double lens_m = u.lens_rest_um * 1e-6 + eccentricity_m * std::sin(angle + 2);
  const double off_axis = 1 - 0.03 * std::pow(lens_m / 100e-6, 2);
  const double light = laser_light * film * disc.light_at(radius_mm, angle) * off_axis;
  const double volts = u.player.model.nominal_level_v / u.player.model.nominal_modulation;
  const double i11 = light * disc.modulation * out.i11;
  Spot spot{};
  spot.land = sim::saturated_v(light * out.top * volts, u.player.model.saturation_v);
  spot.pit = sim::saturated_v((light * out.top - i11) * volts, u.player.model.saturation_v);
  spot.i3_over_i11 = sim::ideal_i3_over_i11 * out.i3 / out.i11 * disc.i3_scale * u.player.short_run_gain * u.short_runs;
  const double detector = u.player.noise_v_per_sqrt_hz * std::sqrt(2e6) / std::max(i11 * volts, 1e-3);
  const double noise_percent =
      100 * std::hypot(detector, disc.noise, u.player.neighbour_noise * out.neighbour_noise / std::max(out.i11, 0.05));
  spot.jitter_ns = std::hypot(at(pattern_ns, z_um), noise_percent * at(slope_ns, z_um), disc.jitter_ns);
  return spot;
}

// C1 words a second that are wrong: those of the disc's own, and edges that jitter beyond half a channel bit's reach.
double c1_of(double jitter_ns, double defects_per_s) {
  const double q = boost::math::cdf(boost::math::complement(boost::math::normal(), 164 / jitter_ns));
  return defects_per_s + 7350 * (1 - std::exp(-246 * q));
}

Sight sight(const SickUnit& u, const sim::Disc& disc, double asked, double radius_mm, double defects_per_s,
            double disc_film = 1) {
  constexpr int angles = 48;
  Sight all;
  const double film = std::pow(u.lens_film * u.mirror_film, 2);
  const double light = laser_of(u, asked).light_mw / u.player.drive.right_light_mw;
  std::array<double, angles> levels{};
  double jitter_squares = 0, shaken = 0;
  for (int i = 0; i < angles; ++i) {
    const double angle = 2 * std::numbers::pi * (i + 0.5) / angles;
    // A fingerprint covers a quarter of the turn and a bit; a shaking spindle goes its own way.
    const double here = film * (disc_film < 1 ? 1 - (1 - disc_film) * std::max(0.3, std::cos(angle)) : 1);
    const double shake_um = u.unsteady_um * std::sin(3.7 * i + 1);
    const Spot s = spot_at(u, disc, light, angle, shake_um, radius_mm, here);
    const Spot still = spot_at(u, disc, light, angle, 0, radius_mm, here);
    const double level = s.land - s.pit;
    levels[static_cast<std::size_t>(i)] = still.land - still.pit;
    shaken += std::pow(level - (still.land - still.pit), 2) / angles;
    const double m = level / std::max(s.land, 1e-9);
    all.level += level / angles;
    all.top += s.land / angles;
    all.rise += level * (1 / std::max(m, 0.05) - 0.5 - disc.asymmetry) / angles;
    all.i3_over_i11 += s.i3_over_i11 / angles;
    jitter_squares += s.jitter_ns * s.jitter_ns / angles;
  }
  all.jitter_ns = std::sqrt(jitter_squares);
  all.c1_per_s = c1_of(all.jitter_ns, defects_per_s);
  std::array<double, 4> parts{};
  for (int i = 0; i < angles; ++i)
    for (int k = 0; k < 4; ++k) {
      const double angle = (k / 2 + 1) * 2 * std::numbers::pi * i / angles;
      parts[static_cast<std::size_t>(k)] +=
          2.0 / angles * levels[static_cast<std::size_t>(i)] * (k % 2 == 0 ? std::cos(angle) : std::sin(angle));
    }
  if (all.level > 1e-3) {
    all.once = 2 * std::sqrt(parts[0] * parts[0] + parts[1] * parts[1] + parts[2] * parts[2] + parts[3] * parts[3]) /
               all.level;
    all.other = 2 * std::numbers::sqrt2 * std::sqrt(shaken) / all.level;
  }
  all.servo_light = light * film * disc.light * (disc_film < 1 ? 1 - (1 - disc_film) * 0.4 : 1);
  return all;
}

constexpr double inner_mm = 27, outer_mm = 56;

Sight of_this_disc(const SickUnit& u, double radius_mm = inner_mm) {
  return sight(u, u.disc, u.asked_light, radius_mm, u.defects_per_s, u.disc_film);
}

// A good unit with the same disc, as its record has it.
Sight of_a_good_unit(const SickUnit& u) {
  SickUnit good;
  good.player = sim::ideal_player(u.player.model);
  good.player.neighbour_noise = 1;
  good.disc = u.disc;
  good.disc.light = u.expected_light;
  good.disc.scratch_depth = 0;
  good.lens_rest_um = 0;
  return sight(good, good.disc, 1, inner_mm, 5);
}

bool has_eye(const Sight& s) { return s.level > 0.08; }

// How badly it plays, 0..1: nobody hears C1 words, but skips and failed loads.
double badness(const SickUnit& u, const Sight& s) {
  const double start = sim::focus_failure_per_try(s.servo_light, u.player.model.switches_gain);
  const double load = sim::load_failure(s.servo_light);
  const double errors = 1 / (1 + std::exp(-(std::log(std::max(s.c1_per_s, 1e-3)) - std::log(220.0)) / 0.4));
  return 1 - (1 - start) * (1 - load) * (1 - errors);
}

std::string_view slipped(std::string_view value, const diagnosis::Evidence& evidence, base::Random& random) {
  if (!random.chance(operator_slip)) return value;
  return evidence.values[random.below(evidence.values.size())].id;
}

diagnosis::Observation told(std::string_view evidence, std::string_view value, base::Random& random) {
  return observe_told(evidence, slipped(value, diagnosis::evidences()[*diagnosis::find_evidence(evidence)], random));
}

std::string_view discs_of(const SickUnit& u) {
  const auto off = [&](const Sight& s, const sim::Disc& disc, double expected) {
    const double usual = of_a_good_unit(u).level * disc.modulation / u.disc.modulation * expected / u.expected_light;
    return std::abs(s.level / usual - 1) > 0.12;
  };
  const Sight here = of_this_disc(u), other = sight(u, u.other, u.asked_light, inner_mm, 5),
              weak = sight(u, u.weak, u.asked_light, inner_mm, 10);
  const double bad_here = badness(u, here), bad_other = badness(u, other), bad_weak = badness(u, weak);
  constexpr double more = 0.15;
  if (bad_here > bad_other + more) return "one";
  if (off(here, u.disc, u.expected_light) && !off(other, u.other, u.other.light)) return "one";
  if (bad_weak > bad_other + more) return "weak";
  if (bad_other > bad_weak + more) return "pressed";
  return "alike";
}

std::string_view focus_of(const SickUnit& u, base::Random& random) {
  const Sight here = of_this_disc(u);
  const double per_try = 1 - (1 - sim::focus_failure_per_try(here.servo_light, u.player.model.switches_gain)) *
                                 (1 - sim::load_failure(here.servo_light));
  if (!has_eye(here)) return "fails";
  for (int tries = 1; tries <= sim::focus_tries; ++tries)
    if (!random.chance(per_try)) return tries == 1 ? "one" : "several";
  return "fails";
}

std::string_view trimmer_of(const SickUnit& u) {
  if (u.wiper_jumps) return "jumpy";
  const double now = laser_of(u, u.asked_light).light_mw, more = laser_of(u, u.asked_light * 1.1).light_mw;
  return more > now * 1.03 ? "follows" : "flat";
}

}  // namespace

std::vector<std::string_view> causes_with_physics() {
  std::vector<std::string_view> all;
  for (const diagnosis::Cause& cause : diagnosis::causes())
    if (cause.id != "pad_after_agc" && cause.id != "hum_loop" && cause.id != "meter_range") all.push_back(cause.id);
  return all;
}

bool is_counted(std::string_view evidence) {
  constexpr std::array judged{"spindle_feel", "look_at_disc", "disc_record", "readback",
                              "clip",         "one_ground",   "wiper_sweep"};
  return std::none_of(judged.begin(), judged.end(), [&](std::string_view id) { return id == evidence; });
}

namespace {

void make_sick(SickUnit& u, base::Random& random) {
  sim::PlayerParameters& p = u.player;
  const std::string_view cause = u.cause;
  const auto film = [&] { return random.uniform(0.80, 0.92); };
  if (cause == "worn_laser_loop") {
    p.laser.threshold_wear = random.uniform(1.25, 1.8);
    p.laser.slope_wear = random.uniform(0.75, 1);
  } else if (cause == "worn_laser_no_loop") {
    p.laser.threshold_wear = random.uniform(1.06, 1.18);
    p.laser.slope_wear = random.uniform(0.9, 1);
  } else if (cause == "level_high") {
    u.asked_light = random.uniform(1.15, 1.45);
  } else if (cause == "level_low") {
    u.asked_light = random.uniform(0.60, 0.85);
  } else if (cause == "lens_dirty" || cause == "mirror_dirty") {
    (cause == "lens_dirty" ? u.lens_film : u.mirror_film) = film();
    u.short_runs = random.uniform(0.85, 1);
  } else if (cause == "focus_offset") {
    p.focus_offset_um = random.uniform(1.2, 2.5) * (random.chance(0.5) ? 1 : -1);
  } else if (cause == "focus_gain") {
    u.focus_gain = random.uniform(0.15, 0.4);
    p.focus_residual_um = random.log_normal_5_95(0.2, 0.5);
  } else if (cause == "tracking_balance") {
    u.radial_offset_um = random.uniform(0.15, 0.40);
  } else if (cause == "radial_tilt") {
    u.radial_tilt_deg = random.uniform(0.6, 1.5);
  } else if (cause == "spindle_eccentric") {
    p.spindle_eccentricity_m = 1e-6 * random.uniform(80, 200);
  } else if (cause == "spindle_bearing") {
    u.unsteady_um = random.uniform(0.8, 2.0);
  } else if (cause == "disc_scratched") {
    u.disc.scratch_depth = random.uniform(0.3, 0.7);
    u.disc.scratch_turns = random.uniform(0.02, 0.15);
    u.defects_per_s = random.log_normal_5_95(80, 1000);
  } else if (cause == "disc_dirty") {
    u.disc_film = random.uniform(0.55, 0.90);
    u.defects_per_s = random.log_normal_5_95(30, 600);
  } else if (cause == "disc_weak") {
    u.disc.light = u.expected_light * random.uniform(0.65, 0.87);
  } else if (cause == "disc_wrong_kind") {
    const auto kind = random.chance(0.7) ? sim::DiscKind::recordable : sim::DiscKind::rewritable;
    u.disc = sim::draw_disc(kind, u.disc.contents, random.stream("wrong"));
  } else if (cause == "probe_factor") {
    u.probe = random.chance(0.7) ? 10 : 0.1;
  } else if (cause == "probe_compensation") {
    u.compensation = 1 + random.uniform(0.08, 0.20) * (random.chance(0.5) ? 1 : -1);
  } else if (cause == "ground_on_reference") {
    u.is_dark = true;
  } else if (cause == "ac_coupling") {
    u.is_ac_coupled = true;
  } else if (cause == "wiper_open") {
    u.wiper_jumps = random.chance(0.7);
    const double what = random.uniform();
    if (what < 0.5)
      u.is_dark = true;  // no current
    else if (what < 0.8)
      u.is_dark = true;  // the current's limit, and the laser is lost
    else
      u.asked_light = random.chance(0.5) ? random.uniform(0.4, 0.7) : random.uniform(1.3, 1.8);
  }
}

}  // namespace

SickUnit draw_sick_unit(std::string_view cause, base::Random random) {
  SickUnit u;
  u.cause = cause;
  sim::ModelTraits model;
  model.has_power_loop = cause == "worn_laser_loop" || (cause != "worn_laser_no_loop" && random.chance(0.75));
  model.normalises_loop_gain = random.chance(0.5);
  u.player = sim::draw_player(random.bits(), model);
  const auto contents = std::make_shared<const sim::Contents>(sim::draw_contents({}, random.stream("contents")));
  u.disc = sim::draw_disc(sim::DiscKind::pressed, contents, random.stream("disc"));
  u.other = sim::draw_disc(sim::DiscKind::pressed, contents, random.stream("other"));
  u.weak = sim::draw_disc(sim::DiscKind::recordable, contents, random.stream("weak"));
  u.expected_light = u.disc.light;
  u.disc.light_once_around = random.log_normal_5_95(0.003, 0.012);  // a test disc is chosen for being even
  u.lens_rest_um = random.normal(0, 30);
  u.asked_light = random.normal(1, 0.035);
  u.defects_per_s = random.log_normal_5_95(1, 30);
  make_sick(u, random);
  return u;
}

std::vector<diagnosis::Observation> first_look(const SickUnit& u, base::Random random) {
  const Sight s = of_this_disc(u), usual = of_a_good_unit(u);
  std::vector<diagnosis::Observation> all;
  // Gain of oscilloscope and probe within 1.5 % and 1 %, of the meter within 0.1 %; a reference from a few good units.
  const double gain = (1 + random.uniform(-0.015, 0.015)) * (1 + random.uniform(-0.01, 0.01)) * u.probe;
  constexpr double of_gain = 0.0104, of_reference = 0.015, of_ratio = 0.01;
  const auto relative = [&](std::string_view evidence, double value, double good, double of_value) {
    const double reference = good * random.normal(1, of_reference);
    all.push_back(
        observe(evidence, {value, std::abs(value) * of_value}, Measured{reference, reference * of_reference}));
  };
  const bool eye = has_eye(s) && u.probe < 5;  // ten times as high is beyond any screen
  const bool is_seen = has_eye(s);
  if (!is_seen) {
    for (const std::string_view id :
         {"level", "top", "rise", "rise_over_level", "i3_over_i11", "asymmetry", "jitter", "c1", "ripple"})
      all.push_back(observe_told(id, "none"));
  } else {
    const double level = s.level * gain * u.compensation;
    const double rise = s.rise * random.normal(1, 0.002);
    const double top = (s.rise + (s.top - s.rise) * u.compensation) * gain;
    relative("level", level, usual.level, of_gain);
    if (u.is_ac_coupled)
      all.push_back(observe_told("top", "none"));
    else
      relative("top", top, usual.top, of_gain);
    relative("rise", rise, usual.rise, 0.002);
    relative("rise_over_level", rise / level, usual.rise / usual.level, of_gain);
    if (u.is_ac_coupled || !eye) {
      all.push_back(observe_told("i3_over_i11", "none"));
      all.push_back(observe_told("asymmetry", "none"));
    } else {
      relative("i3_over_i11", s.i3_over_i11, usual.i3_over_i11, of_ratio);
      all.push_back(observe("asymmetry", {u.disc.asymmetry + random.normal(0, 0.01), 0.01},
                            Measured{u.cause == "disc_wrong_kind" ? u.other.asymmetry : u.disc.asymmetry, 0.01}));
    }
    if (!eye) {
      for (const std::string_view id : {"jitter", "c1", "ripple"}) all.push_back(observe_told(id, "none"));
    } else {
      all.push_back(observe("jitter", {s.jitter_ns * random.normal(1, 0.03), s.jitter_ns * 0.03}));
      all.push_back(observe("c1", {s.c1_per_s * random.normal(1, 0.1), s.c1_per_s * 0.1}));
      all.push_back(observe_ripple({std::abs(s.once + random.normal(0, 0.003)), 0.003},
                                   Measured{std::abs(std::hypot(s.other, 0.006)), 0.003}));
    }
  }
  all.push_back(told("focus", focus_of(u, random), random));
  const double current = laser_of(u, u.asked_light).current_ma;
  if (current < 1)
    all.push_back(observe_told("laser_current", "none"));
  else
    all.push_back(observe("laser_current", {current * (1 + random.uniform(-0.03, 0.03)), current * 0.0175},
                          Measured{u.player.label_current_ma, 0}));
  all.push_back(told("discs", discs_of(u), random));
  all.push_back(told("trimmer", trimmer_of(u), random));
  return all;
}

diagnosis::Situation situation_of(const SickUnit& u) {
  return {.has_power_loop = u.player.model.has_power_loop,
          .knows_series_resistor = true,
          .has_trimmer = true,
          .has_service_data = true,
          .has_isolated_mains = true};
}

namespace {

double level_with(SickUnit u, double lens_film, double mirror_film) {
  u.lens_film = lens_film;
  u.mirror_film = mirror_film;
  return of_this_disc(u).level;
}

std::string_view cleaned(const SickUnit& u, bool lens) {
  // A swab leaves a little of it.
  const auto after = [](double film) { return 1 - 0.15 * (1 - film); };
  const double level =
      level_with(u, lens ? after(u.lens_film) : u.lens_film, lens ? u.mirror_film : after(u.mirror_film));
  return level > of_this_disc(u).level * 1.05 + 1e-6 ? "helps" : "no";
}

std::string_view swept(const SickUnit& u, base::Random& random) {
  const auto jitter = [&](double by_um) {
    SickUnit moved = u;
    moved.player.focus_offset_um += by_um;
    return of_this_disc(moved).jitter_ns * random.normal(1, 0.02);
  };
  const double here = jitter(0), down = jitter(-1), up = jitter(1);
  if (std::min(down, up) < here * 0.94) return "aside";
  return std::min(down, up) < here * 1.05 ? "flat" : "centred";
}

std::string_view value_of(const SickUnit& u, std::string_view evidence, base::Random& random) {
  if (evidence == "threshold") {
    // Two points give it to 0.6 mA; what this pickup had at its first visit is known within 3 %.
    const double found = u.player.laser.threshold_wear + random.normal(0, 0.6 / u.player.laser.threshold_25_ma);
    return found > 1.08 * random.normal(1, 0.03) ? "raised" : "normal";
  }
  if (evidence == "clean_lens") return cleaned(u, true);
  if (evidence == "clean_mirror") return cleaned(u, false);
  if (evidence == "focus_sweep") return swept(u, random);
  if (evidence == "loop_gain") {
    const double x = u.player.model.normalises_loop_gain ? 1 : of_this_disc(u).servo_light;
    return std::abs(std::log(std::max(x * u.focus_gain, 1e-3) * random.log_normal_5_95(0.85, 1.18))) > 0.3 ? "wrong"
                                                                                                           : "normal";
  }
  if (evidence == "traverse") {
    const double swing = std::sin(2 * std::numbers::pi * u.radial_offset_um / 1.6) / 2 + 0.04 * u.radial_tilt_deg +
                         random.normal(0, 0.03);
    return std::abs(swing) > 0.10 ? "uneven" : "even";
  }
  if (evidence == "radius") {
    SickUnit at_rim = u;  // a dish-shaped disc leans outwards everywhere
    at_rim.radial_tilt_deg += u.disc.warp_mm * 3.2 * 0.9 * (random.chance(0.5) ? 1 : -1);
    const double in = of_this_disc(u).jitter_ns, out = of_this_disc(at_rim, outer_mm).jitter_ns;
    const bool by_damage = (u.disc.scratch_depth > 0 || u.disc_film < 1) && random.chance(0.5);
    return by_damage || std::abs(out - in) > 3.5 ? "differs" : "alike";
  }
  if (evidence == "turn_disc") {
    if (of_this_disc(u).once < 0.03) return "neither";
    SickUnit straight = u;
    straight.player.spindle_eccentricity_m = 0;
    return of_this_disc(straight).once < of_this_disc(u).once / 2 ? "spindle" : "disc";
  }
  if (evidence == "spindle_feel") {
    if (u.cause == "spindle_bearing") return random.chance(0.85) ? "bad" : "good";
    return u.cause == "spindle_eccentric" && random.chance(0.2) ? "bad" : "good";
  }
  if (evidence == "look_at_disc") {
    if (u.disc.scratch_depth > 0) return random.chance(0.95) ? "scratch" : "clean";
    return u.disc_film < 1 && random.chance(0.93) ? "dirt" : "clean";
  }
  if (evidence == "disc_record") return u.cause == "disc_wrong_kind" ? "other" : "right";
  if (evidence == "readback") return u.probe != 1 ? "probe" : u.is_ac_coupled ? "coupling" : "right";
  if (evidence == "square_wave") return std::abs(u.compensation - 1) > 0.04 ? "tilted" : "square";
  if (evidence == "clip") return u.cause == "ground_on_reference" ? "wrong" : "right";
  if (evidence == "one_ground") return "stays";
  return u.wiper_jumps || u.cause == "wiper_open" ? "jumps" : "smooth";
}

}  // namespace

diagnosis::Observation checked(const SickUnit& u, std::string_view evidence, base::Random random) {
  return told(evidence, value_of(u, evidence, random), random);
}

}  // namespace eyelevel::test
