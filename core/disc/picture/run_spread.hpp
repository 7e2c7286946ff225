// SPDX-License-Identifier: Apache-2.0
// How the lengths of runs spread about the nominal one, pits and lands of each length apart, counted in steps of the
// local channel bit. Counts add up over any number of calls in memory that does not grow. For a picture: it shows two
// humps or a skirt where mean and standard deviation do not; what measures is in core/disc/eye.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>

#include "core/disc/eye/runs.hpp"

namespace eyelevel::disc::picture {

// Of one group: a count for each step from one channel bit short to one channel bit long.
struct LengthSpread {
  static constexpr std::size_t steps_per_bit = 200;
  static constexpr std::size_t steps = 2 * steps_per_bit;

  std::array<std::uint32_t, steps> counts{};

  // Where a step begins, in channel bits longer than nominal.
  static constexpr double start_bits(std::size_t step) {
    return static_cast<double>(step) / static_cast<double>(steps_per_bit) - 1;
  }
};

struct RunSpreads {
  double bit_ns = 0;                             // one channel bit
  std::array<LengthSpread, 12> pits{}, lands{};  // index 3 to 11 is the nominal length

  const LengthSpread& of(std::size_t t, bool is_land) const { return (is_land ? lands : pits)[t]; }
};

class RunSpreadCounter {
 public:
  // `high_is_land`: whether more codes mean more light.
  RunSpreadCounter(double channel_rate_hz, bool high_is_land) : high_is_land_(high_is_land) {
    spreads_.bit_ns = 1e9 / channel_rate_hz;
  }

  // Runs off by a channel bit or more, of no legal length or whose length is no number are passed over.
  void take(std::span<const eye::Run> runs);

  const RunSpreads& result() const { return spreads_; }

 private:
  bool high_is_land_;
  RunSpreads spreads_;
};

}  // namespace eyelevel::disc::picture
