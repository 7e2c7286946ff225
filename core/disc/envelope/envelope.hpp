// SPDX-License-Identifier: Apache-2.0
// The outline of the eye over time: its height (focus, axial run-out, dirt) and its middle (light as a whole). A point
// covers as many envelope blocks as a channel frame lasts, so that each holds the longest runs of a frame sync. What is
// held does not grow without end: past 65536 points two and two become one. Volts and seconds.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "core/disc/analysis.hpp"

namespace eyelevel::disc::envelope {

class EnvelopeSums {
 public:
  // `block_s`: length of a block; `blocks_a_point`: how many make a point.
  EnvelopeSums(double block_s, std::size_t blocks_a_point)
      : spacing_s_(block_s * static_cast<double>(blocks_a_point)), blocks_(blocks_a_point) {}

  // The next block: its extremes. Where they are no number the block is passed over; a point of such blocks only is as
  // the one before it, and left out before the first.
  void take(double low_v, double high_v);
  // Figures; `speed` is that of the disc over 1x (turns are looked for at 2.5 to 12 a second at 1x).
  EnvelopeFigures figures(double speed) const;

 private:
  void add_point();

  double spacing_s_;
  std::size_t blocks_, seen_ = 0, merged_ = 1, waiting_ = 0;
  double low_v_ = 0, high_v_ = 0;               // of the point that is being filled, or the last one that was
  bool filled_ = false, any_ = false;           // whether a block of this point, of any point, was a number
  double height_sum_v_ = 0, middle_sum_v_ = 0;  // of points that wait to be merged into one
  std::vector<float> heights_v_, middles_v_;
};

}  // namespace eyelevel::disc::envelope
