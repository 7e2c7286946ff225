// SPDX-License-Identifier: Apache-2.0
// Places with a known voltage, for tests of simulated instruments.
#pragma once

#include <cmath>
#include <functional>
#include <numbers>
#include <span>

#include "sim/player/signal_source.hpp"

namespace eyelevel::test {

// A voltage given as a function of time; the mean is taken from many samples.
class FunctionSource final : public sim::SignalSource {
 public:
  explicit FunctionSource(std::function<double(double)> volts) : volts_(std::move(volts)) {}

  void render(double start_s, double rate_hz, std::span<float> volts, const sim::Load& load) override {
    last_load = load;
    last_end_s = start_s + static_cast<double>(volts.size()) / rate_hz;
    for (std::size_t i = 0; i < volts.size(); ++i)
      volts[i] = static_cast<float>(volts_(start_s + static_cast<double>(i) / rate_hz));
  }
  double mean_v(double from_s, double until_s, const sim::Load& load) override {
    last_load = load;
    last_end_s = until_s;
    constexpr int samples = 1000;
    double sum = 0;
    for (int i = 0; i < samples; ++i) sum += volts_(from_s + (until_s - from_s) * (i + 0.5) / samples);
    return sum / samples;
  }

  sim::Load last_load;
  double last_end_s = 0;

 private:
  std::function<double(double)> volts_;
};

inline std::shared_ptr<FunctionSource> constant_source(double volts) {
  return std::make_shared<FunctionSource>([volts](double) { return volts; });
}

inline std::shared_ptr<FunctionSource> sine_source(double mean_v, double amplitude_v, double frequency_hz) {
  return std::make_shared<FunctionSource>(
      [=](double t) { return mean_v + amplitude_v * std::sin(2 * std::numbers::pi * frequency_hz * t); });
}

}  // namespace eyelevel::test
