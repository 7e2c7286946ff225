// SPDX-License-Identifier: Apache-2.0
// Frames to Q blocks: 98 frames from S0 and S1 on (ECMA-130 2nd ed. clauses 18 and 22). A block that an end of the
// record cuts is left out; one inside whose frames are partly unreadable, or whose CRC fails, is given with crc false.
// Not for the meaning of the bits: core/disc/subcode.
#pragma once

#include <vector>

#include "core/disc/analysis.hpp"
#include "core/disc/detail/frames.hpp"

namespace eyelevel::disc::detail {

std::vector<QBlock> find_sections(const Frames& frames, double rate_hz);
// Audio or data by the CONTROL bits of the good blocks, lead-in included (there it is that of the track pointed to);
// what most say; unknown where there are none or as many say the one as the other.
Content content_of(const std::vector<QBlock>& blocks);

}  // namespace eyelevel::disc::detail
