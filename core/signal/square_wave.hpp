// SPDX-License-Identifier: Apache-2.0
// What a record of a square wave says of the probe that it came through: its settled levels, how flat its tops are, its
// frequency. A top reaches from a rising to the next falling crossing of the middle; the parts of a top at the ends of
// the record are not whole and do not count. Settled is the last fifth of a top or bottom, early its part from 1 % to
// 3 %: after a fast edge, and before a probe that is not compensated has settled (some 0.1 ms, of a 1 kHz wave a fifth
// of the top). These shares are conventions of ours; crossings are those of IEEE Std 181 at the 50 % reference level.
// Refused with Error(bad_input): no two states, no whole top, a top of fewer than 100 samples.
#pragma once

#include <cstddef>

#include "core/signal/waveform.hpp"

namespace eyelevel::signal {

struct SquareWave {
  double low_v = 0;  // settled
  double high_v = 0;
  // Early less settled part of the tops, over the height: above zero the edges overshoot, below they round off.
  double early_share = 0;
  double frequency_hz = 0;          // 0: fewer than two rising crossings
  double span_s = 0;                // between the first and the last of them
  std::size_t tops = 0;             // whole ones
  std::size_t settled_samples = 0;  // that each of the levels was averaged from, at least
  std::size_t early_samples = 0;

  double height_v() const { return high_v - low_v; }
};

SquareWave square_wave_of(const WaveformView& waveform);

}  // namespace eyelevel::signal
