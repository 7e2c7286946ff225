// SPDX-License-Identifier: Apache-2.0
// What the house asks of any switch or relay box. Its ways have names in the bench file; a relay that has none there is
// never closed. Contract and errors as for oscilloscope.hpp, and: whatever is closed is opened, and proved open, before
// anything else closes; a way is open or closed only as read back; make_safe() opens everything.
#pragma once

#include <string>
#include <vector>

#include "core/base/timeline.hpp"
#include "core/bench/instrument.hpp"

namespace eyelevel::bench {

class RelayBox : public Instrument {
 public:
  // Exactly these ways are closed afterwards. Error(bad_input) for a name that the bench file does not have.
  virtual task<std::vector<SettingTaken>> close_only(const std::vector<std::string>& ways, base::Duration within) = 0;
  // The ways that are closed, as the instrument states it.
  virtual task<std::vector<std::string>> closed(base::Duration within) = 0;
};

}  // namespace eyelevel::bench
