// SPDX-License-Identifier: Apache-2.0
// What the house asks of any frequency counter. Contract and errors as for oscilloscope.hpp.
#pragma once

#include "core/base/timeline.hpp"
#include "core/bench/instrument.hpp"
#include "core/bench/kind/oscilloscope.hpp"

namespace eyelevel::bench {

struct FrequencySetting {
  int input = 1;
  Coupling coupling = Coupling::ac;
  double level_v = 0;   // what an edge must cross
  double gate_s = 0.1;  // how long it counts
};

class Counter : public Instrument {
 public:
  virtual task<std::vector<SettingTaken>> set_up_frequency(const FrequencySetting& setting, base::Duration within) = 0;
  // One reading in hertz, over the gate. Error(bad_answer) when no signal crosses the level.
  virtual task<double> read_frequency(base::Duration within) = 0;
};

}  // namespace eyelevel::bench
