// SPDX-License-Identifier: Apache-2.0
#include "core/guide/tone.hpp"

#include <algorithm>
#include <cmath>

namespace eyelevel::guide {
namespace {

// Where hearing is keen and small loudspeakers still sound; an octave to either side is told apart by anybody (common
// practice).
constexpr double right_hz = 660;
constexpr double octaves_most = 1;
constexpr double furthest = 4;  // half-widths at which pitch and beat have gone as far as they go
constexpr double right_beat_per_s = 1;
constexpr double slowest_beat_per_s = 3;
constexpr double fastest_beat_per_s = 10;
constexpr double soft = 0.3;

}  // namespace

Tone tone_of(std::optional<double> deviation) {
  if (!deviation || !std::isfinite(*deviation)) return {};
  const double off = std::clamp(*deviation, -furthest, furthest);
  if (std::abs(off) <= 1) return {false, right_hz, right_beat_per_s, soft};
  const double share = (std::abs(off) - 1) / (furthest - 1);
  return {false, right_hz * std::exp2(octaves_most * off / furthest),
          slowest_beat_per_s + share * (fastest_beat_per_s - slowest_beat_per_s), 1};
}

}  // namespace eyelevel::guide
