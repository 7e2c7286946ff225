// SPDX-License-Identifier: Apache-2.0
// The sound that a technician follows without looking up, as a pure function of the deviation: the pitch says on which
// side the reading lies, the beat how far off it is; right is a soft steady tick. Silence always means "no information,
// stop turning". Not here: making the sound.
#pragma once

#include <optional>

namespace eyelevel::guide {

struct Tone {
  bool is_silent = true;
  double pitch_hz = 0;
  double beats_per_s = 0;
  double loudness = 0;  // share of full, 0..1
};

// `deviation`: from the middle of the limits, in half-widths: -1 and 1 are the limits. Empty or not finite: silence.
Tone tone_of(std::optional<double> deviation);

}  // namespace eyelevel::guide
