// SPDX-License-Identifier: Apache-2.0
// A simulated frequency counter that speaks nothing but SCPI. It counts as a reciprocal counter does: the time from the
// first to the last rising crossing of its level within the gate, found in its input's signal itself at 20 MSa/s, so up
// to some megahertz. Without two crossings it answers "not a number". The time base's error is drawn once for an
// instrument, rectangular within its class.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/base/random.hpp"
#include "sim/instrument/single_reading.hpp"
#include "sim/player/signal_source.hpp"

namespace eyelevel::sim {

struct CounterClass {
  int inputs = 2;
  double of_frequency = 1e-6;  // half-width, relative
};

// Rising crossings of `level_v`, with the hysteresis on both sides, from the first to the last: crossings per second,
// or nothing when there are fewer than two.
std::optional<double> counted_frequency(SignalSource& source, const Load& load, double level_v, double from_s,
                                        double until_s);

class SimulatedCounter final : public SingleReading {
 public:
  SimulatedCounter(base::Timeline& timeline, const CounterClass& counter_class, const base::Random& random,
                   std::string identity = "Eyelevel,Simulated counter,0,1.0");

  // Wires an input (from 1) to a place; an empty source is an open input.
  void connect(int input, std::shared_ptr<SignalSource> source, const Load& load = {1e6, 30e-12});

 private:
  struct Input {
    std::shared_ptr<SignalSource> source;
    Load load;
    bool ac = true;
    double level_v = 0;
  };

  void reset() override;
  Start starts() const override { return from_bus_ ? Start::by_bus : Start::at_once; }
  double duration_s() const override { return gate_s_; }
  double measured(double begun_s) override;

  void register_input();
  void register_sense();
  void register_trigger();
  task<> read(Call& call);
  Input& input(const Call& call) { return inputs_.at(static_cast<std::size_t>(call.suffix() - 1)); }

  CounterClass class_;
  double error_;
  std::vector<Input> inputs_;
  std::size_t chosen_ = 0;  // the input of the next reading
  double gate_s_ = 0.1;
  bool from_bus_ = false;
};

}  // namespace eyelevel::sim
