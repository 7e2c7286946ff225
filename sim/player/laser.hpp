// SPDX-License-Identifier: Apache-2.0
// The laser diode and what drives it: light above a threshold, both moved by temperature and wear, and either a power
// loop that holds the light until the driver's current limit, or a plain current set by the trimmer. Not here: what the
// light does on the disc (sim/disc), the trimmer's mechanics (trimmer.hpp). Source: P = eta (I - Ith) with exponential
// temperature laws, the usual textbook form; figures are design values. Units: mA, mW at the facet, degrees Celsius;
// temperature differences in kelvin. Pure functions, any thread.
#pragma once

namespace eyelevel::sim {

struct Laser {
  double threshold_25_ma = 35;
  double slope_25_mw_per_ma = 0.25;
  double threshold_temperature_k = 140;  // T0 of Ith(T) = Ith25 exp((T - 25)/T0)
  double slope_temperature_k = 400;      // T1 of eta(T) = eta25 exp(-(T - 25)/T1)
  double threshold_wear = 1;             // 1 = new; 1.2 = threshold risen by 20 %
  double slope_wear = 1;                 // 1 = new; below 1 = facet dulled

  double threshold_ma(double temperature_c) const;
  double slope_mw_per_ma(double temperature_c) const;
  // Light at a current; no light below the threshold.
  double light_mw(double current_ma, double temperature_c) const;
  // The current that gives this light (above zero).
  double current_ma(double light_mw, double temperature_c) const;
};

struct LaserDrive {
  bool has_loop = true;
  double right_light_mw = 2.5;     // facet light at the right setting
  double right_current_ma = 45;    // current at 25 degrees of the new laser at the right setting
  double current_limit_ma = 75;    // the driver can give no more
  double monitor_ma_per_mw = 0.1;  // monitor photodiode; a constant of the pickup
  double soft_start_s = 0.03;      // light rises with this time constant after switching on
};

struct OperatingPoint {
  double current_ma = 0;
  double light_mw = 0;
  double monitor_ma = 0;
  bool at_limit = false;
};

// `setting` is what the trimmer asks for, 1 = right. With a loop it scales the light, without it the current.
OperatingPoint operating_point(const Laser& laser, const LaserDrive& drive, double setting, double temperature_c);

// Threshold from two points (light in any one unit).
struct LightAtCurrent {
  double current_ma = 0;
  double light = 0;
};
double threshold_from_two_points_ma(LightAtCurrent first, LightAtCurrent second);

// How much faster a laser ages at `to_c` than at `from_c` for an activation energy (Arrhenius, Boltzmann constant
// 8.617333e-5 eV/K).
struct AgeingTemperatures {
  double from_c = 25;
  double to_c = 25;
};
double ageing_acceleration(double activation_energy_ev, AgeingTemperatures temperatures);

}  // namespace eyelevel::sim
