// SPDX-License-Identifier: Apache-2.0
// The channel code of ECMA-130 2nd ed. clause 19 and annex D: 8 data bits to 14 channel bits and back, the two subcode
// sync words, the frame sync pattern and the layout of a channel frame. A bit that is ONE is an edge between pit and
// land. Words are right-aligned integers; their most significant bit is the first channel bit.
// Not for making bits: merging.hpp. All functions are pure and may be called from any thread.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

namespace eyelevel::disc::efm {

inline constexpr int frame_bits = 588;           // channel bits of a frame, 19.4
inline constexpr int frame_symbols = 33;         // the control symbol and 32 symbols of the F2-frame
inline constexpr int section_frames = 98;        // one subcode block, clause 18
inline constexpr int sync_bits = 24;             // 19.2
inline constexpr int codeword_bits = 14;         // 19.1
inline constexpr int merging_bits = 3;           // 19.3
inline constexpr int run_min = 3, run_max = 11;  // T, 19.1
inline constexpr std::uint32_t sync_pattern = 0b100000000001000000000010;
inline constexpr std::uint16_t s0_codeword = 0b00100000000001;
inline constexpr std::uint16_t s1_codeword = 0b00000000010010;

// Offset in the frame of the merging bits before symbol 0 (control) to 32, and before the next sync for 33.
constexpr int merging_offset(int symbol) { return sync_bits + (merging_bits + codeword_bits) * symbol; }
// Offset in the frame of the codeword of symbol 0 (control) to 32.
constexpr int codeword_offset(int symbol) { return merging_offset(symbol) + merging_bits; }

// What a 14-bit group means: 0 to 255 is a data byte, the rest one of these.
inline constexpr int symbol_s0 = 256;
inline constexpr int symbol_s1 = 257;
inline constexpr int symbol_invalid = -1;

// The codeword of a byte, annex D.
std::uint16_t codeword(std::uint8_t byte);
// What each 14-bit group means: a byte, symbol_s0, symbol_s1 or symbol_invalid.
inline constexpr std::size_t groups = std::size_t{1} << codeword_bits;
extern const std::array<std::int16_t, groups> symbol_of_group;
// Bits above the fourteenth are ignored.
inline int decode(std::uint32_t group) { return symbol_of_group[group & (groups - 1)]; }

}  // namespace eyelevel::disc::efm
