// SPDX-License-Identifier: Apache-2.0
// Frames to what the disc says and how well: CIRC counts, and after them the sectors of a data track or the sound of an
// audio track. Not for eye and subcode. Where frames are missing the code starts anew, and 111 frames after the gap
// give nothing.
#pragma once

#include <optional>
#include <vector>

#include "core/disc/analysis.hpp"
#include "core/disc/detail/frames.hpp"

namespace eyelevel::disc::detail {

struct Decoded {
  C1Counts c1;
  C2Counts c2;
  std::optional<Sectors> sectors;  // unless audio
  std::optional<Sound> sound;      // of audio, if wanted
};

Decoded decode_frames(const std::vector<Frame>& frames, const CircStrategy& strategy, Content content,
                      bool sound_wanted);

}  // namespace eyelevel::disc::detail
