// SPDX-License-Identifier: Apache-2.0
// The mean of an eye that goes through the saturating amplifier: how often the signal lies where between pit and land,
// from some frames of the disc's own channel bits, so that a mean over minutes costs a few dozen evaluations. Not here:
// what the levels are (loaded_disc.hpp). Immutable after construction.
#pragma once

#include <vector>

#include "sim/disc/renderer.hpp"
#include "sim/player/loaded_disc.hpp"

namespace eyelevel::sim {

class EyeMean {
 public:
  EyeMean(const LoadedDisc& disc, const EyeShape& shape);
  // Linear volts of settled land and pit, counted from dark; the mean behind a saturation at limit_v.
  double mean_v(double land_v, double pit_v, double limit_v) const;
  // On the renderer's scale, without saturation.
  double mean() const { return mean_; }

 private:
  struct Bin {
    double level = 0;  // -1 pit, +1 land
    double share = 0;
  };
  std::vector<Bin> bins_;
  double mean_ = 0;
};

}  // namespace eyelevel::sim
