// SPDX-License-Identifier: Apache-2.0
// Symbols to channel bits: chooses the three merging bits as ECMA-130 2nd ed. 19.3 and annex E ask. Runs stay between 3T
// and 11T, the sync pattern appears nowhere else, and among the legal choices the digital sum after the next symbol is
// nearest to zero; on a tie 100 goes before 010 before 001 before 000. Encoders may differ here, decoders ignore it.
// Bits are before NRZI: a ONE is an edge. Not for the meaning of symbols: code.hpp.
#pragma once

#include <array>
#include <bitset>
#include <cstdint>
#include <span>

#include "core/disc/efm/code.hpp"

namespace eyelevel::disc::efm {

// Where the encoder stands between two frames; after a frame only level and sum differ from frame to frame.
struct MergingState {
  int level = 1;           // +1 or -1, of the channel bit before
  int digital_sum = 0;     // of all bits so far
  bool operator==(const MergingState&) const = default;
};

using FrameBits = std::bitset<frame_bits>;                   // [0] is the first channel bit
using FrameCodewords = std::array<std::uint16_t, frame_symbols>;  // control first

// Codewords of a control byte (or S0, S1: pass symbol_s0, symbol_s1) and the 32 bytes of an F2-frame.
FrameCodewords codewords_of(int control_symbol, std::span<const std::uint8_t, 32> f2);

// Writes the offsets of the ONEs of one frame, ascending, into `edges` (room for 196); answers how many. The frame starts
// with its sync pattern and ends with the merging bits before the next one; `state` moves on to the next frame.
// With `even` the number of edges is even: the level after the frame is that before it. This takes, where needed, one
// legal choice that is not the nearest to zero.
int encode_frame(const FrameCodewords& codewords, MergingState& state, std::span<std::uint16_t, 196> edges,
                 bool even = false);

}  // namespace eyelevel::disc::efm
