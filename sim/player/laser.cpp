// SPDX-License-Identifier: Apache-2.0
#include "sim/player/laser.hpp"

#include <algorithm>
#include <cmath>

namespace eyelevel::sim {
namespace {

constexpr double reference_c = 25;
constexpr double kelvin_at_0_c = 273.15;
constexpr double boltzmann_ev_per_k = 8.617333262e-5;

}  // namespace

double Laser::threshold_ma(double temperature_c) const {
  return threshold_25_ma * threshold_wear * std::exp((temperature_c - reference_c) / threshold_temperature_k);
}

double Laser::slope_mw_per_ma(double temperature_c) const {
  return slope_25_mw_per_ma * slope_wear * std::exp(-(temperature_c - reference_c) / slope_temperature_k);
}

double Laser::light_mw(double current_ma, double temperature_c) const {
  return slope_mw_per_ma(temperature_c) * std::max(0.0, current_ma - threshold_ma(temperature_c));
}

double Laser::current_ma(double light_mw, double temperature_c) const {
  return threshold_ma(temperature_c) + light_mw / slope_mw_per_ma(temperature_c);
}

OperatingPoint operating_point(const Laser& laser, const LaserDrive& drive, double setting, double temperature_c) {
  const double wanted_ma = drive.has_loop ? laser.current_ma(drive.right_light_mw * setting, temperature_c)
                                          : drive.right_current_ma * setting;
  OperatingPoint point;
  point.at_limit = wanted_ma > drive.current_limit_ma;
  point.current_ma = std::min(wanted_ma, drive.current_limit_ma);
  point.light_mw = laser.light_mw(point.current_ma, temperature_c);
  point.monitor_ma = drive.monitor_ma_per_mw * point.light_mw;
  return point;
}

double threshold_from_two_points_ma(LightAtCurrent first, LightAtCurrent second) {
  return (second.light * first.current_ma - first.light * second.current_ma) / (second.light - first.light);
}

double ageing_acceleration(double activation_energy_ev, AgeingTemperatures temperatures) {
  const double from_k = temperatures.from_c + kelvin_at_0_c;
  const double to_k = temperatures.to_c + kelvin_at_0_c;
  return std::exp(activation_energy_ev / boltzmann_ev_per_k * (1 / from_k - 1 / to_k));
}

}  // namespace eyelevel::sim
