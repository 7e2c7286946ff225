// SPDX-License-Identifier: Apache-2.0
// Servo signals where they are captured: the S-curve of the focus error while the lens sweeps through focus, and the
// swing of the tracking error while tracks are crossed with the tracking loop open. Neither is standardised for players
// (common practice); the low-pass of 15 us is that of ECMA-130 2nd ed. 12.6 for the radial signal. Volts and seconds.
// Pure; any thread.
#pragma once

#include <optional>
#include <string>

#include "core/signal/waveform.hpp"

namespace eyelevel::disc::servo {

inline constexpr double low_pass_s = 15e-6;

// What was looked for, or why it is not there: a sentence with what was found instead and what would do.
template <class Found>
struct Sought {
  std::optional<Found> found;
  std::string why_not;
};

// Means over all sweeps that were found.
struct SCurve {
  int sweeps = 0;
  double height_v = 0;       // from the lower to the upper peak
  double symmetry = 0;       // (up - down) / (up + down), peaks from the reference: 0 is even, -1 to 1
  double slope_v_per_s = 0;  // at the reference, size only: the lens sweeps either way
  double straight_s = 0;     // how long the curve keeps within a tenth of its height of the straight line there
};

// `reference_v`: what the signal stands on out of focus; the median of the record if empty. A sweep has two peaks to
// either side of the reference, one right after the other, and quiet around; noise and a steady swing are none.
Sought<SCurve> s_curve(const signal::WaveformView& waveform, std::optional<double> reference_v);

struct TrackingSwing {
  int tracks = 0;       // crossed: whole swings
  double height_v = 0;  // mean lower to mean upper peak
  double tracks_per_s = 0;
  // (up - down) / 2 (up + down) of the mean peaks, from the reference; within 0.1 is usual.
  std::optional<double> balance;
};

// The balance needs the reference. At least four swings of about one height.
Sought<TrackingSwing> tracking_swing(const signal::WaveformView& waveform, std::optional<double> reference_v);

}  // namespace eyelevel::disc::servo
