// SPDX-License-Identifier: Apache-2.0
// A simulated digital multimeter that speaks nothing but SCPI (base functionality of SCPI-99 Vol. 4, ch. 3) for d.c.
// volts. A reading integrates its input over the aperture in Timeline time. Accuracy class "a of reading + b of range":
// both errors are drawn once for an instrument, rectangular. Beyond 120 % of the range it reads overload (9.9E37).
#pragma once

#include <memory>
#include <string>

#include "core/base/random.hpp"
#include "sim/instrument/single_reading.hpp"
#include "sim/player/signal_source.hpp"

namespace eyelevel::sim {

// Half-widths within which each instrument's errors are drawn.
struct MeterClass {
  double of_reading = 0.0005;
  double of_range = 0.0002;
  double noise_of_range = 5e-6;  // rms of one reading of one line cycle; falls with the root of the aperture
  double line_hz = 50;
};

class SimulatedMultimeter final : public SingleReading {
 public:
  SimulatedMultimeter(base::Timeline& timeline, const MeterClass& meter_class, const base::Random& random,
                      std::string identity = "Eyelevel,Simulated multimeter,0,1.0");

  // Wires the input to a place; an empty source is an open input, which reads 0. The load is the meter's with its
  // cable.
  void connect(std::shared_ptr<SignalSource> source, const Load& load = {10e6, 110e-12});

 private:
  void reset() override;
  Start starts() const override {
    return trigger_ == Source::immediate ? Start::at_once : trigger_ == Source::bus ? Start::by_bus : Start::never;
  }
  double duration_s() const override { return aperture_s_; }
  double measured(double begun_s) override;

  void register_sense();
  void register_trigger();
  void register_measurement();
  void configure(Call& call);
  task<> read(Call& call, bool configure_first);

  MeterClass class_;
  base::Random noise_;
  double error_of_reading_;
  double error_of_range_;
  std::shared_ptr<SignalSource> source_;
  Load load_;

  double range_v_ = 10;
  bool autorange_ = true;
  double aperture_s_ = 0.2;
  double resolution_v_ = 1e-5;
  enum class Source { immediate, bus, external, hold } trigger_ = Source::immediate;
};

}  // namespace eyelevel::sim
