// SPDX-License-Identifier: Apache-2.0
// What one output of the simulated function generator gives, over time: pure mathematics, seconds and volts, with what
// was set from when on. The oldest settings are forgotten after a thousand changes.
#pragma once

#include <deque>

#include "sim/player/signal_source.hpp"

namespace eyelevel::sim {

struct GeneratorSetting {
  enum class Shape { sine, square, triangle } shape = Shape::sine;
  double frequency_hz = 1000;
  double peak_to_peak_v = 0.1;
  double offset_v = 0;
  bool on = false;
};

class GeneratedSignal final : public SignalSource {
 public:
  // `frequency_factor` and `amplitude_factor` are the errors of this one output, 1 for none.
  GeneratedSignal(double frequency_factor, double amplitude_factor)
      : frequency_factor_(frequency_factor), amplitude_factor_(amplitude_factor) {}

  const GeneratorSetting& setting() const { return history_.back().setting; }
  // From `now_s` on; never before an earlier change.
  void set(const GeneratorSetting& setting, double now_s);

  double voltage_v(double time_s) const;
  void render(double start_s, double rate_hz, std::span<float> volts, const Load& load) override;
  double mean_v(double from_s, double until_s, const Load& load) override;

 private:
  struct Change {
    double from_s = 0;
    GeneratorSetting setting;
  };

  const Change& at(double time_s) const;
  double value_v(const Change& change, double time_s) const;

  double frequency_factor_;
  double amplitude_factor_;
  std::deque<Change> history_{Change{}};
};

}  // namespace eyelevel::sim
