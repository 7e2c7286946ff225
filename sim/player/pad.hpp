// SPDX-License-Identifier: Apache-2.0
// The electrical end of the pickup: an amplifier that saturates softly, noise of limited bandwidth, and a source
// resistance that makes a divider and a one-pole filter with whatever hangs on the pad. Not here: the light itself
// (sim/disc), when there is which light (player.hpp). Volts; x and y are counted from the dark level, in the direction
// of more light. Not safe for two threads at once.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>

#include "sim/disc/kernels.hpp"
#include "sim/player/signal_source.hpp"

namespace eyelevel::sim {

// y = x / (1 + |x/Vs|^16)^(1/16).
double saturated_v(double linear_v, double limit_v);
// The same over many samples; error below 1e-6 of the limit.
void saturate(std::span<float> volts, double limit_v);

// Gaussian noise of the detector: white up to its bandwidth (one pole), as samples taken at rate_hz hold it. The same
// key gives the same noise, however it is fetched.
class NoiseSource {
 public:
  NoiseSource(double bandwidth_hz, double rate_hz, std::uint64_t key);
  void add_to(std::span<float> volts, double density_v_per_sqrt_hz);

 private:
  static constexpr std::size_t lanes = kernels::noise_lanes;
  void draw(std::span<float> into);  // whole rounds
  void fetch(std::span<float> into);

  double bandwidth_root_;  // of the equivalent sharp band
  kernels::Pole pole_;     // its output has standard deviation 1
  std::array<std::uint32_t, 2 * lanes> states_{};
  std::array<float, lanes> spare_{};
  std::size_t left_ = 0;  // of them
};

// What a load does to the pad: divider at d.c. and pole.
struct LoadedPad {
  double gain = 1;
  double time_constant_s = 0;
};
LoadedPad loaded(double source_ohm, const Load& load);

// One-pole filter with the exact answer to straight lines between the samples.
class OnePole {
 public:
  OnePole(const LoadedPad& pad, double rate_hz);
  void run(std::span<float> volts);
  // Samples to run before a record so that what was before it is forgotten to 1e-7.
  std::size_t warm_up() const { return warm_up_; }

 private:
  kernels::Pole pole_;
  bool begun_ = false;
  std::size_t warm_up_ = 0;
};

}  // namespace eyelevel::sim
