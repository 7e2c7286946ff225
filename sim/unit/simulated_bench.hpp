// SPDX-License-Identifier: Apache-2.0
// One simulated visit, live on a Timeline: the player on the bench, switched on and without a disc, its pad wired to
// the instruments, the person beside it. The instruments are reached as devices by their role, through the memory
// transport (rehearsal) or served on real ports (`eyelevel sim`); nothing else connects them with whoever measures.
#pragma once

#include <map>
#include <memory>
#include <string>

#include "core/base/timeline.hpp"
#include "instruments/transport/device.hpp"
#include "sim/operator/simulated_operator.hpp"
#include "sim/player/moved_lead.hpp"
#include "sim/player/pad_signal.hpp"
#include "sim/player/player.hpp"
#include "sim/unit/unit_make.hpp"

namespace eyelevel::sim {

class SimulatedBench {
 public:
  SimulatedBench(base::Timeline& timeline, const UnitMake& make);
  SimulatedBench(const SimulatedBench&) = delete;
  SimulatedBench& operator=(const SimulatedBench&) = delete;

  Player& player() { return player_; }
  SimulatedOperator& person() { return person_; }
  // By role; instruments that are switched off are missing.
  const std::map<std::string, std::shared_ptr<transport::Device>>& devices() const { return devices_; }
  // What they answer to *IDN? when they behave, by role.
  const std::map<std::string, std::string>& identities() const { return identities_; }
  // The first disc of that kind in the box.
  std::shared_ptr<const Disc> disc(DiscKind kind) const;

 private:
  std::vector<std::shared_ptr<const Disc>> box_;
  Player player_;
  std::shared_ptr<PadSignal> pad_;
  std::map<std::string, std::shared_ptr<MovedLead>> leads_;  // "probe", "counter"
  SimulatedOperator person_;
  std::map<std::string, std::shared_ptr<transport::Device>> devices_;
  std::map<std::string, std::string> identities_;
};

}  // namespace eyelevel::sim
