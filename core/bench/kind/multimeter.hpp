// SPDX-License-Identifier: Apache-2.0
// What the house asks of any multimeter. Contract and errors as for oscilloscope.hpp.
#pragma once

#include "core/base/timeline.hpp"
#include "core/bench/instrument.hpp"

namespace eyelevel::bench {

struct DcSetting {
  double range_v = 0;     // largest expected magnitude
  double aperture_s = 0;  // integration time; 0: the instrument chooses
};

class Multimeter : public Instrument {
 public:
  virtual task<std::vector<SettingTaken>> set_up_dc(const DcSetting& setting, base::Duration within) = 0;
  // One d.c. reading in volts, integrated over the aperture.
  virtual task<double> read_dc(base::Duration within) = 0;
};

}  // namespace eyelevel::bench
