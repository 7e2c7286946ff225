// SPDX-License-Identifier: Apache-2.0
#include "sim/player/parameters.hpp"

#include <algorithm>
#include <cmath>

#include "core/base/random.hpp"

namespace eyelevel::sim {
namespace {

constexpr double noise_reference_hz = 2e6;  // the band in which noise figures are stated

void draw_laser(PlayerParameters& unit, base::Random chance) {
  unit.laser.threshold_25_ma = chance.log_normal_5_95(25, 50);
  unit.laser.slope_25_mw_per_ma = chance.log_normal_5_95(0.15, 0.35);
  unit.laser.threshold_temperature_k = chance.uniform(120, 160);
  unit.laser.slope_temperature_k = chance.uniform(300, 600);
  unit.laser.threshold_wear = 1 + chance.uniform(0, 0.06);  // healthy
  LaserDrive& drive = unit.drive;
  drive.has_loop = unit.model.has_power_loop;
  drive.right_light_mw = chance.log_normal_5_95(2, 4);
  drive.right_current_ma = unit.laser.threshold_25_ma + drive.right_light_mw / unit.laser.slope_25_mw_per_ma;
  drive.current_limit_ma = drive.right_current_ma * chance.uniform(1.4, 2.0);
  drive.monitor_ma_per_mw = chance.log_normal_5_95(0.1, 0.6) / drive.right_light_mw;
  drive.soft_start_s = chance.log_normal_5_95(0.01, 0.1);
  unit.label_current_ma = drive.right_current_ma;
}

void draw_trimmer(PlayerParameters& unit, base::Random chance) {
  TrimmerTraits& trimmer = unit.trimmer;
  trimmer.travel_deg = chance.uniform(210, 270);
  trimmer.dead_end_deg = chance.uniform(10, 20);
  trimmer.track_ohm = 10e3 * chance.uniform(0.75, 1.25);
  trimmer.backlash_deg = chance.log_normal_5_95(1, 4);
  trimmer.spring_back_deg = chance.uniform(0, 1);
  trimmer.contact_noise = chance.log_normal_5_95(0.002, 0.01);
  // Light goes with 1/(reach + angle - right): reach is the inverse steepness. Room for 0.65 to 1.35 on the track.
  const double low = std::log(unit.model.steepness_min_per_deg);
  const double high = std::log(unit.model.steepness_max_per_deg);
  constexpr double room_up = 1 - 1 / 1.35;
  constexpr double room_down = 1 / 0.65 - 1;
  constexpr double margin_deg = 3;
  const double free_deg = trimmer.travel_deg - 2 * (trimmer.dead_end_deg + margin_deg);
  const double reach_deg = std::min(std::exp(-chance.uniform(low, high)), free_deg / (room_up + room_down));
  const double first_deg = trimmer.dead_end_deg + margin_deg + room_up * reach_deg;
  const double last_deg =
      std::min(trimmer.travel_deg - trimmer.dead_end_deg - margin_deg - room_down * reach_deg, reach_deg);
  trimmer.right_deg = first_deg + (std::max(last_deg, first_deg) - first_deg) * chance.uniform();
  trimmer.fixed_ohm = std::max(0.0, reach_deg - trimmer.right_deg) / trimmer.travel_deg * trimmer.track_ohm;
  const bool either = chance.chance(0.5);
  trimmer.clockwise_raises = unit.model.clockwise_raises.value_or(either);
}

void draw_optics(PlayerParameters& unit, base::Random chance) {
  unit.focus_offset_um = std::clamp(chance.normal(0, 0.22), -0.5, 0.5);
  unit.focus_residual_um = chance.log_normal_5_95(0.1, 0.5);
  unit.spindle_eccentricity_m = 1e-6 * chance.log_normal_5_95(5, 30);
  unit.short_run_gain = chance.uniform(0.7, 0.9);
}

void draw_pad(PlayerParameters& unit, base::Random chance) {
  unit.source_ohm = unit.model.source_ohm * chance.uniform(0.8, 1.2);
  unit.reference_error = chance.uniform(-0.03, 0.03);
  unit.dark_offset_v = std::clamp(chance.normal(0, 0.008), -0.02, 0.02);
  unit.drift_v = 1e-3 * chance.log_normal_5_95(1, 5) * (chance.chance(0.5) ? 1 : -1);
  unit.drift_v_per_k = chance.uniform(-0.2e-3, 0.2e-3);
  // Above 1.2 % the weaker eye of a recordable disc jitters by far more than 35 ns (common practice): a sick amplifier.
  const double in_reference_band_v = unit.model.nominal_level_v * std::min(0.012, chance.log_normal_5_95(0.003, 0.01));
  unit.noise_v_per_sqrt_hz = in_reference_band_v / std::sqrt(noise_reference_hz);
  unit.noise_bandwidth_hz = chance.log_normal_5_95(4e6, 15e6);
  unit.stray_v = chance.uniform(0, 0.3);
}

void draw_warmth(PlayerParameters& unit, base::Random chance) {
  unit.ambient_c = chance.uniform(19, 27);
  unit.warm_up_k = chance.uniform(10, 20);
  unit.warm_up_s = chance.uniform(200, 400);
}

}  // namespace

double trimmer_deg_for_light(const PlayerParameters& parameters, double share) {
  const LaserDrive& drive = parameters.drive;
  const double half_warm_c = parameters.ambient_c + parameters.warm_up_k / 2;
  const double setting =
      drive.has_loop ? share
                     : parameters.laser.current_ma(drive.right_light_mw * share, half_warm_c) / drive.right_current_ma;
  return Trimmer(parameters.trimmer, parameters.trimmer.right_deg, base::Random(0)).angle_for(setting);
}

PlayerParameters draw_player(std::uint64_t seed, const ModelTraits& model, LevelRange level) {
  const base::Random random(seed, "player");
  PlayerParameters unit;
  unit.model = model;
  unit.seed = seed;
  draw_laser(unit, random.stream("laser"));
  draw_trimmer(unit, random.stream("trimmer"));
  draw_optics(unit, random.stream("optics"));
  draw_pad(unit, random.stream("pad"));
  draw_warmth(unit, random.stream("warmth"));
  unit.trimmer_start_deg = trimmer_deg_for_light(unit, random.stream("level").uniform(level.lowest, level.highest));
  return unit;
}

PlayerParameters ideal_player(const ModelTraits& model) {
  PlayerParameters unit;
  unit.model = model;
  unit.drive.has_loop = model.has_power_loop;
  unit.trimmer.clockwise_raises = model.clockwise_raises.value_or(true);
  unit.trimmer_start_deg = unit.trimmer.right_deg;
  unit.source_ohm = model.source_ohm;
  unit.ambient_c = 25;
  unit.warm_up_k = 0;
  unit.neighbour_noise = 0;
  return unit;
}

}  // namespace eyelevel::sim
