// SPDX-License-Identifier: Apache-2.0
// The mean of one disc's eye behind the saturating amplifier: how often the signal lies where between pit and land,
// from some frames of the disc's own channel bits, so that a mean over minutes costs a few dozen evaluations. Not here:
// what the levels are (loaded_disc.hpp). Fills its tables when needed; belongs to one thread.
#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <vector>

#include "sim/disc/disc.hpp"
#include "sim/player/loaded_disc.hpp"

namespace eyelevel::sim {

class EyeMean {
 public:
  explicit EyeMean(std::shared_ptr<const Disc> disc) : disc_(std::move(disc)) {}
  // Linear volts of settled land and pit, counted from dark; the mean behind a saturation at limit_v.
  struct Levels {
    double land_v = 0;
    double pit_v = 0;
  };
  double mean_v(const Levels& levels, double i3_over_i11, double limit_v);
  // Without saturation, on the renderer's scale: -1 pit, +1 land.
  double mean(double i3_over_i11);

 private:
  struct Bin {
    double level = 0;  // renderer's scale
    double share = 0;
  };
  const std::vector<Bin>& bins_at_step(std::int64_t step);
  double mean_at_step(std::int64_t step);

  std::shared_ptr<const Disc> disc_;
  std::map<std::int64_t, std::vector<Bin>> bins_;
  std::map<std::int64_t, double> means_;
};

}  // namespace eyelevel::sim
