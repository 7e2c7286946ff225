// SPDX-License-Identifier: Apache-2.0
// What one simulated player is: the traits of its model (as its model sheet would state them) and everything in which
// one unit differs from the next, drawn from a seed. Faults are set on the drawn parameters by whoever wants them. Not
// here: what the player does (player.hpp). The model LF-2 is invented; ranges are design values, not measurements.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "sim/player/laser.hpp"
#include "sim/player/trimmer.hpp"

namespace eyelevel::sim {

// The defaults are those of the invented LF-2. Its pad stands on a reference of 0.38 V, so that the whole eye of nearly
// every healthy unit on nearly every pressed disc lies between 0.6 and 2.6 V.
struct ModelTraits {
  std::string model = "LF-2";
  double nominal_level_v = 1.20;     // peak to peak on an average pressed disc at the right setting, in focus
  double nominal_modulation = 0.70;  // I11/Itop of that disc
  bool light_raises_voltage = true;
  double source_ohm = 1000;
  double reference_v = 0.38;
  double saturation_v = 2.6;  // from the reference
  double audio_speed = 1;
  double data_speed = 2;
  bool reads_in_bursts = false;
  double burst_period_s = 4;  // half of it reading, half of it standing still
  bool has_power_loop = true;
  bool switches_gain = false;                   // for weak discs
  bool normalises_loop_gain = false;            // focus residual does not grow in dim light
  std::optional<bool> clockwise_raises = true;  // empty: one unit so, another so
  double steepness_min_per_deg = 0.003;         // d ln(light) / d angle at the right setting
  double steepness_max_per_deg = 0.03;
};

struct PlayerParameters {
  ModelTraits model;
  std::uint64_t seed = 0;  // of everything that happens by chance later on

  Laser laser;
  LaserDrive drive;
  double label_current_ma = 45;  // as on the pickup's label
  TrimmerTraits trimmer;
  double trimmer_start_deg = 120;

  double film_transmission = 1;  // of dirt on lens or mirror, one pass
  double focus_offset_um = 0;    // z0
  double focus_residual_um = 0;  // a, at x >= 1
  double spindle_eccentricity_m = 0;
  bool spindle_turns = true;
  double neighbour_noise = 1;   // crosstalk as noise, relative to the design value
  double short_run_gain = 0.8;  // I3 of this pickup relative to ideal optics

  double source_ohm = 1000;
  double reference_error = 0;  // relative
  double dark_offset_v = 0;
  double drift_v = 0;  // of the reference while warming up
  double drift_v_per_k = 0;
  double noise_v_per_sqrt_hz = 0;  // of the detector
  double noise_bandwidth_hz = 8e6;
  double stray_v = 0;  // at the pad in standby

  std::optional<double> power_cut_s{};  // the player goes off at this moment; it can be switched on again

  double ambient_c = 23;
  double warm_up_k = 15;
  double warm_up_s = 300;  // time constant
};

// Where the drawn trimmer stands, as a share of the nominal level; narrow enough that every unit can be cured.
struct LevelRange {
  double lowest = 0.78;
  double highest = 1.20;
};

// Everything of one healthy unit follows from seed and model.
PlayerParameters draw_player(std::uint64_t seed, const ModelTraits& model, LevelRange level = {});

// A unit without spread, noise, drift and bobbing: for tests and for calibrating.
PlayerParameters ideal_player(const ModelTraits& model);

// The trimmer angle at which the laser, half warm, gives this share of the right light.
double trimmer_deg_for_light(const PlayerParameters& parameters, double share);

}  // namespace eyelevel::sim
