// SPDX-License-Identifier: Apache-2.0
// A simulated relay box that speaks nothing but SCPI (SCPI-99 Vol. 4, signal switchers): relays by number, each with a
// time to move in which it is a pending operation and still is as it was.
#pragma once

#include <string>
#include <vector>

#include "sim/instrument/scpi_instrument.hpp"

namespace eyelevel::sim {

class SimulatedRelayBox final : public ScpiInstrument {
 public:
  SimulatedRelayBox(base::Timeline& timeline, int relays, std::string identity = "Eyelevel,Simulated relay box,0,1.0");

  // Whether the contact of a relay (from 1) is made, now.
  bool makes_contact(int relay) const;
  // The most contacts that were ever made at one moment.
  int most_contacts() const { return most_contacts_; }

 private:
  struct Relay {
    bool closed = false;  // as it was told
    double told_s = -1;
  };

  void reset() override;
  void settle_operation() override;
  bool operation_pending() override;
  base::Duration next_look() override;

  std::vector<int> relays_of(const Call& call) const;
  void move(int relay, bool closed);

  std::vector<Relay> relays_;
  int most_contacts_ = 0;
};

}  // namespace eyelevel::sim
