// SPDX-License-Identifier: Apache-2.0
// What the house asks of any function generator. Contract and errors as for oscilloscope.hpp, and as for the outputs of
// power_supply.hpp: nothing beyond what the bench file allows (the highest magnitude, |offset| + half the peak-to-peak
// value), off after set_up(), on or off only as read back, every output off after make_safe(). Volts are at terminals
// on which nothing hangs.
#pragma once

#include "core/base/timeline.hpp"
#include "core/bench/instrument.hpp"

namespace eyelevel::bench {

// A frequency that is read back counts as the one asked for within this share of it and these hertz.
inline constexpr double frequency_taken_relative = 1e-6;
inline constexpr double frequency_taken_hz = 1e-3;

enum class Shape { sine, square, triangle };

struct SignalSetting {
  Shape shape = Shape::sine;
  double frequency_hz = 0;
  double peak_to_peak_v = 0;
  double offset_v = 0;
};

class FunctionGenerator : public Instrument {
 public:
  virtual task<std::vector<SettingTaken>> set_up(int output, const SignalSetting& setting, base::Duration within) = 0;
  virtual task<> switch_on(int output, base::Duration within) = 0;
  virtual task<> switch_off(int output, base::Duration within) = 0;
};

}  // namespace eyelevel::bench
