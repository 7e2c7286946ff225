// SPDX-License-Identifier: Apache-2.0
// What the house asks of any d.c. power supply. Contract and errors as for oscilloscope.hpp, and:
//  - nothing is ever asked that the bench file does not allow for that output (Error bad_input, nothing sent);
//  - set_up() leaves the output off; only switch_on() puts voltage on it, and only after a set_up() of that output;
//  - an output is on or off only when it has been read back so (Error setting_not_taken);
//  - make_safe() switches off every output that the bench file names, and proves it.
// Volts and amperes are at the output's terminals.
#pragma once

#include <optional>

#include "core/base/timeline.hpp"
#include "core/bench/instrument.hpp"

namespace eyelevel::bench {

struct OutputSetting {
  double voltage_v = 0;
  double current_limit_a = 0;
  double protection_v = 0;  // above this the output switches itself off
};

struct OutputReading {
  bool on = false;
  bool tripped = false;  // its protection has switched it off
  double voltage_v = 0;  // measured
  double current_a = 0;
};

class PowerSupply : public Instrument {
 public:
  // Switches the output off, clears what its protection remembers, sets and proves all three values.
  virtual task<std::vector<SettingTaken>> set_up(int output, const OutputSetting& setting, base::Duration within) = 0;
  // Returns once the voltage has settled. Error(instrument_error) when the protection trips.
  virtual task<> switch_on(int output, base::Duration within) = 0;
  virtual task<> switch_off(int output, base::Duration within) = 0;
  virtual task<OutputReading> read(int output, base::Duration within) = 0;
};

}  // namespace eyelevel::bench
