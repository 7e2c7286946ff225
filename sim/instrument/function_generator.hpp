// SPDX-License-Identifier: Apache-2.0
// A simulated function generator that speaks nothing but SCPI (SCPI-99 Vol. 4, signal sources). What an output gives is
// a place to which other simulated instruments can be wired; it remembers its settings over time, so that a record that
// is rendered later shows what was there then. The phase begins anew with every change. Errors are drawn once for an
// instrument, rectangular within its class. Frequencies 1 mHz to 20 MHz, peaks up to 10 V.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "core/base/random.hpp"
#include "sim/instrument/scpi_instrument.hpp"
#include "sim/player/signal_source.hpp"

namespace eyelevel::sim {

struct GeneratorClass {
  int outputs = 2;
  double of_frequency = 2e-6;  // half-width, relative
  double of_amplitude = 0.01;
};

class GeneratedSignal;

class SimulatedFunctionGenerator final : public ScpiInstrument {
 public:
  SimulatedFunctionGenerator(base::Timeline& timeline, const GeneratorClass& generator_class,
                             const base::Random& random,
                             std::string identity = "Eyelevel,Simulated function generator,0,1.0");

  // The place behind an output (from 1); 0 V while the output is off. It may outlive the instrument.
  std::shared_ptr<SignalSource> place(int output) const;
  bool is_on(int output) const;

 private:
  void reset() override;

  void register_source();
  void register_output();
  GeneratedSignal& signal(const Call& call) { return *signals_.at(static_cast<std::size_t>(call.suffix() - 1)); }

  GeneratorClass class_;
  std::vector<std::shared_ptr<GeneratedSignal>> signals_;
};

}  // namespace eyelevel::sim
