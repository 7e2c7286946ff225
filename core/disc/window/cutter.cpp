// SPDX-License-Identifier: Apache-2.0
#include "core/disc/window/cutter.hpp"

#include "core/disc/clock/survey.hpp"

namespace eyelevel::disc::window {

Lengths lengths_at(double rate_hz) {
  constexpr double core_s = 0.05;       // 367 frames at 1x
  constexpr double overlap_s = 0.0034;  // 25 frames, and as far as a fault of the focus is followed (clock/survey)
  // Fewer samples would hold too few edges for the medians, more would not fit into memory that is small.
  constexpr double core_least = 1 << 18, core_most = 1 << 20;
  const std::size_t block = clock::block_samples(rate_hz);
  const auto whole_blocks = [&](double samples) { return static_cast<std::size_t>(samples) / block * block; };
  const double core = std::clamp(rate_hz * core_s, core_least, core_most);
  return {std::max(4 * block, whole_blocks(core)),
          std::max(block, whole_blocks(std::min(rate_hz * overlap_s, core / 4)))};
}

}  // namespace eyelevel::disc::window
