// SPDX-License-Identifier: Apache-2.0
#include "sim/player/loaded_disc.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <numbers>

#include "sim/disc/optics.hpp"

namespace eyelevel::sim {
namespace {

constexpr double full_turn_rad = 2 * std::numbers::pi;
constexpr double long_run_t = 11;
// Design values: the level falls by up to 3 % twice per turn, in full from this eccentricity on.
constexpr double deepest_dip = 0.03;
constexpr double eccentricity_of_deepest_dip_m = 100e-6;
// A warp of 0.5 mm at the rim tilts the disc by about 1.6 degrees there.
constexpr double tilt_deg_per_mm_at_rim = 3.2;
constexpr double rim_m = 60e-3;
constexpr double dimmest_for_residual = 0.1;

}  // namespace

LoadedDisc::LoadedDisc(std::shared_ptr<const Disc> disc, const PlayerParameters& player, base::Random chance)
    : disc_(std::move(disc)),
      key_(chance.bits()),
      film_(player.film_transmission * player.film_transmission),
      short_run_gain_(player.short_run_gain),
      neighbour_noise_(player.neighbour_noise),
      focus_offset_um_(player.focus_offset_um),
      focus_residual_um_(player.focus_residual_um),
      residual_follows_light_(!player.model.normalises_loop_gain) {
  spiral_.velocity_m_per_s = disc_->speed_m_s;
  focus_phase_rad_ = chance.uniform(0, full_turn_rad);
  const auto hole = std::polar(disc_->eccentricity_um * 1e-6, disc_->eccentricity_phase_rad);
  const auto clamping = std::polar(player.spindle_eccentricity_m, chance.uniform(0, full_turn_rad));
  eccentricity_m_ = std::abs(hole + clamping);
  eccentricity_phase_rad_ = std::arg(hole + clamping);
}

double LoadedDisc::lens_defocus_um(double turns, double laser_light) const {
  const double x = std::clamp(servo_light(laser_light), dimmest_for_residual, 1.0);
  const double residual_um = residual_follows_light_ ? focus_residual_um_ / x : focus_residual_um_;
  return focus_offset_um_ + residual_um * std::sin(full_turn_rad * turns + focus_phase_rad_);
}

double LoadedDisc::time_error_s(double turns) const {
  return eccentricity_m_ / spiral_.velocity_m_per_s * std::sin(full_turn_rad * turns + eccentricity_phase_rad_);
}

EyeLight LoadedDisc::eye(double place_s, double turns, double laser_light) const {
  const double radius_m = spiral_.radius_m(place_s);
  const double angle_rad = full_turn_rad * (turns - std::floor(turns));
  const ReadOut spot = read_out({.defocus_um = lens_defocus_um(turns, laser_light),
                                 .radial_tilt_deg = disc_->warp_mm * tilt_deg_per_mm_at_rim * radius_m / rim_m});
  const double off_axis = std::sin(angle_rad + eccentricity_phase_rad_);
  const double dip = deepest_dip * std::min(1.0, eccentricity_m_ / eccentricity_of_deepest_dip_m) * off_axis * off_axis;
  const double light = laser_light * film_ * disc_->light_at(radius_m * 1e3, angle_rad) * (1 - dip);
  const double i11 = light * disc_->modulation * spot.i11;
  EyeLight eye;
  eye.land = light * spot.top;
  eye.pit = eye.land - i11;
  eye.i3_over_i11 = ideal_i3_over_i11 * spot.i3 / spot.i11 * disc_->i3_scale * short_run_gain_;
  eye.noise = i11 * std::hypot(disc_->noise, neighbour_noise_ * spot.neighbour_noise);
  return eye;
}

EyeShape LoadedDisc::shape(const EyeLight& eye) const {
  EyeShape shape;
  shape.sigma_t = blur_of_i3_over_i11(eye.i3_over_i11);
  shape.pit_lengthening_t = pit_lengthening_of_asymmetry(disc_->asymmetry, shape.sigma_t);
  shape.edge_jitter_t = disc_->jitter_ns * 1e-9 * channel_rate_1x_hz / std::numbers::sqrt2;
  shape.jitter_seed = key_;
  return shape;
}

double settled_share(double i3_over_i11) {
  constexpr double lowest = 0.15, highest = 0.98, step = 0.005;  // the range of the blur
  constexpr std::size_t count = 167;
  static const std::array<double, count> table = [] {
    std::array<double, count> shares{};
    for (std::size_t i = 0; i < count; ++i) {
      const double sigma_t = blur_of_i3_over_i11(lowest + step * static_cast<double>(i));
      shares[i] = 1 - 2 * std::erfc(long_run_t / 2 / (sigma_t * std::numbers::sqrt2));
    }
    return shares;
  }();
  const double place = (std::clamp(i3_over_i11, lowest, highest) - lowest) / step;
  const auto index = std::min(static_cast<std::size_t>(place), count - 2);
  return std::lerp(table[index], table[index + 1], place - static_cast<double>(index));
}

}  // namespace eyelevel::sim
