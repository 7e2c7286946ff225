// SPDX-License-Identifier: Apache-2.0
// What a simulated instrument's input is connected to: a place with a voltage at every moment of the Timeline. Pure
// function of time and of what happened to the player before; rendering twice gives the same signal, apart from
// nothing. Times are seconds on the run's Timeline; volts are at the place itself, loaded as stated.
#pragma once

#include <span>

namespace eyelevel::sim {

// What the instrument hangs on the place.
struct Load {
  double resistance_ohm = 10e6;
  double capacitance_f = 12e-12;
};

class SignalSource {
 public:
  virtual ~SignalSource() = default;
  // Samples at start_s + i / rate_hz; start_s may lie in the past (records end at "now"), never in the future.
  virtual void render(double start_s, double rate_hz, std::span<float> volts, const Load& load) = 0;
  // Mean voltage over a span, as an integrating meter sees it.
  virtual double mean_v(double from_s, double until_s, const Load& load) = 0;
};

}  // namespace eyelevel::sim
