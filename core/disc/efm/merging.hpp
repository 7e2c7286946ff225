// SPDX-License-Identifier: Apache-2.0
// Symbols to channel bits: chooses the three merging bits as ECMA-130 2nd ed. 19.3 and annex E ask. Runs stay between
// 3T and 11T, the sync pattern appears nowhere else, and among the legal choices the digital sum after the next symbol
// is nearest to zero; on a tie 100 goes before 010 before 001 before 000. Encoders may differ here, decoders ignore it.
// Bits are before NRZI: a ONE is an edge. Not for the meaning of symbols: code.hpp. Pure functions.
#pragma once

#include <array>
#include <cstdint>
#include <span>

#include "core/disc/efm/code.hpp"

namespace eyelevel::disc::efm {

inline constexpr int frame_edges_max = frame_bits / run_min;

// Where the encoder stands between two frames. Runs need no memory: every frame begins with the same pattern.
struct MergingState {
  int level = 1;        // +1 or -1, of the channel bit before
  int digital_sum = 0;  // of all bits so far
  bool operator==(const MergingState&) const = default;
};

// What the number of edges of a frame is to be: even leaves the level as it was.
enum class Parity { any, even, odd };

// The control symbol (a byte, symbol_s0 or symbol_s1), then the 32 bytes of an F2-frame.
using FrameSymbols = std::array<std::uint16_t, frame_symbols>;

// Writes the offsets of the ONEs of one frame, ascending, and answers how many. The frame starts with its sync pattern
// and ends with the merging bits before the next one; `state` moves on to the next frame. Even or odd parity takes,
// where needed, one legal choice that is not the nearest to zero. (Only a frame in which no symbol leaves a choice
// cannot obey, such as byte 97 thirty-three times.) A symbol above symbol_s1 is a defect (asserted). Cost: about 1 us.
int encode_frame(const FrameSymbols& symbols, MergingState& state, std::span<std::uint16_t, frame_edges_max> edges,
                 Parity parity = Parity::any);

}  // namespace eyelevel::disc::efm
