// SPDX-License-Identifier: Apache-2.0
#include "sim/player/servo.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace eyelevel::sim {
namespace {

constexpr double focus_centre = 0.33;
constexpr double focus_centre_gain_switched = 0.12;
constexpr double focus_width = 0.045;
constexpr double load_centre = 1.35;
constexpr double load_width = 0.06;
constexpr double skips_per_min_at_certain_failure = 30;
constexpr double q_blocks_per_s = 75;

}  // namespace

std::string_view name_of(PlayerState state) {
  constexpr std::array<std::string_view, 11> names{"off",       "standby",       "no disc", "stopped",
                                                   "searching", "tracking open", "spin-up", "contents",
                                                   "seeking",   "playing",       "paused"};
  return names[static_cast<std::size_t>(state)];
}

double focus_failure_per_try(double light, bool switches_gain) {
  const double centre = switches_gain ? focus_centre_gain_switched : focus_centre;
  return 1 / (1 + std::exp((light - centre) / focus_width));
}

double load_failure(double light) { return 1 / (1 + std::exp((load_centre - light) / load_width)); }

double skips_per_min(double light, bool switches_gain) {
  const double p = load_failure(light) + focus_failure_per_try(light, switches_gain);
  return skips_per_min_at_certain_failure * std::min(1.0, p);
}

double contents_cycle_s(int tracks) { return (tracks + 3) * 3 / q_blocks_per_s; }

ServoTimes draw_servo_times(base::Random& chance) {
  ServoTimes times;
  times.wake_s = chance.uniform(0.3, 0.8);
  times.focus_try_s = chance.log_normal_5_95(0.2, 1.0);
  times.tracking_open_s = chance.log_normal_5_95(0.2, 1.0);
  times.spin_up_s = chance.log_normal_5_95(0.5, 1.5) + chance.log_normal_5_95(0.05, 0.3);
  times.contents_extra_s = chance.uniform(0.7, 2.5);
  times.seek_s = chance.log_normal_5_95(0.3, 2.0);
  return times;
}

}  // namespace eyelevel::sim
