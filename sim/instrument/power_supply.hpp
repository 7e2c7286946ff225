// SPDX-License-Identifier: Apache-2.0
// A simulated d.c. power supply that speaks nothing but SCPI (SCPI-99 Vol. 4, d.c. power supplies). Each output gives
// its voltage to a resistance, or its current limit where that is less; it settles with a time constant and is a
// pending operation until then. Above its protection it switches itself off and remembers it. QUEStionable bit 0 says
// that the current limit holds the voltage down. Errors are drawn once for an instrument, rectangular within its class.
#pragma once

#include <string>
#include <vector>

#include "core/base/random.hpp"
#include "sim/instrument/scpi_instrument.hpp"

namespace eyelevel::sim {

struct SupplyClass {
  int outputs = 2;
  double of_voltage = 0.001;  // half-width, relative, of what is set; and once more of what is read
  double of_current = 0.005;
  double offset_v = 0, offset_a = 0;  // half-widths, of what is read
  double most_v = 32;
  double most_a = 3;
};

class SimulatedPowerSupply final : public ScpiInstrument {
 public:
  SimulatedPowerSupply(base::Timeline& timeline, const SupplyClass& supply_class, const base::Random& random,
                       std::string identity = "Eyelevel,Simulated power supply,0,1.0");

  // What hangs on an output (from 1); infinity: nothing.
  void connect(int output, double resistance_ohm);
  // A voltage that something outside puts on the terminals; the output trips when it is above its protection.
  void lift(int output, double voltage_v);

  // The truth at the terminals, now.
  double true_voltage_v(int output);
  bool is_on(int output) const { return outputs_.at(static_cast<std::size_t>(output - 1)).on; }

 private:
  struct Output {
    double set_v = 0;
    double limit_a = 0.1;
    double protection_v = 0;
    bool on = false;
    bool tripped = false;
    double resistance_ohm = 0;
    double lifted_v = 0;
    double error_of_set = 0;
    double error_of_limit = 0;
    double error_of_reading = 0;
    double error_of_current = 0;
    double offset_v = 0, offset_a = 0;
    double from_v = 0;  // where it was when it was last changed
    double changed_s = 0;
  };

  void reset() override;
  void settle_operation() override;
  bool operation_pending() override;
  base::Duration next_look() override;

  void register_source();
  void register_output();
  void register_measurement();
  Output& output(const Call& call) { return outputs_.at(static_cast<std::size_t>(call.suffix() - 1)); }
  Output& output_of(const Call& call);  // by its channel list; the first when there is none
  double goal_v(const Output& output) const;
  double voltage_v(const Output& output) const;
  bool limits(const Output& output) const;
  template <class Change>
  void change(Output& output, const Change& what);

  SupplyClass class_;
  std::vector<Output> outputs_;
};

}  // namespace eyelevel::sim
