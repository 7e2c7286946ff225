// SPDX-License-Identifier: Apache-2.0
// A simulated instrument that takes one reading at a time (SCPI-99 Vol. 2, ch. 24, with one trigger layer): initiated,
// it waits for its trigger, measures for some time and keeps the reading until a setting changes. What multimeters and
// counters share. Bits 4 (measuring) and 5 (waiting for trigger) of the operation status follow (Vol. 2, 20.1).
#pragma once

#include "sim/instrument/scpi_instrument.hpp"

namespace eyelevel::sim {

class SingleReading : public ScpiInstrument {
 protected:
  enum class Start { at_once, by_bus, never };  // never: by a trigger that does not come here

  SingleReading(base::Timeline& timeline, std::string identity, std::string capability, int digits)
      : ScpiInstrument(timeline, std::move(identity), std::move(capability)), digits_(digits) {}

  void register_reading();  // ABORt, INITiate
  void initiate();          // -213 while one is under way
  void go_idle();
  void invalidate() { valid_ = false; }  // a setting has changed
  // Waits for the reading under way and answers it; -230 without one.
  task<> fetch(Call& call);

 private:
  virtual Start starts() const = 0;
  virtual double duration_s() const = 0;
  virtual double measured(double begun_s) = 0;  // from then for duration_s()

  void settle_operation() final;
  bool operation_pending() final { return state_ != State::idle; }
  base::Duration next_look() final;
  void bus_trigger() final;
  void start();

  int digits_;  // of the answer
  enum class State { idle, waiting, measuring } state_ = State::idle;
  double begun_s_ = 0;
  double reading_ = 0;
  bool valid_ = false;
};

}  // namespace eyelevel::sim
