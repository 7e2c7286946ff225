// SPDX-License-Identifier: Apache-2.0
// Channel bits to frames: ECMA-130 2nd ed. 19.2 and 19.4. Syncs are looked at all together: one that stands alone and
// fits no other is false, one that is missing is bridged. A loss is a sync that came where none was due, or two or more
// in a row that did not come. Not for the meaning of symbols: subcode and circ. Times in samples.
#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

#include "core/disc/circ/layout.hpp"
#include "core/disc/clock/recovery.hpp"
#include "core/disc/clock/slicer.hpp"

namespace eyelevel::disc::detail {

struct Frame {
  std::int64_t number = 0;  // counted by time: a gap leaves numbers out
  std::int64_t bit = 0;     // first channel bit
  double start = 0;         // sample of the first edge
  bool has_sync = false;
  bool bridged = false;  // it has none, but lies between two that have
  bool slipped = false;  // sync was lost before it
  int control = 0;       // byte, efm::symbol_s0, symbol_s1 or symbol_invalid
  circ::F2Frame symbols{};
  std::uint32_t invalid = 0;  // mask of symbols that are no codeword
};

// Only frames wholly inside the samples, with ascending numbers.
std::vector<Frame> find_frames(const clock::Edges& edges, const clock::Lattice& lattice, std::size_t samples);

}  // namespace eyelevel::disc::detail
