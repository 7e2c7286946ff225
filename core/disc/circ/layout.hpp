// SPDX-License-Identifier: Apache-2.0
// Shape of the cross-interleaved Reed-Solomon code of ECMA-130 2nd ed. annex C: sizes, order and delays. Bytes of an
// F1-frame are numbered 2w for W(w),A and 2w+1 for W(w),B. A mark mask has bit k set for symbol k.
#pragma once

#include <array>
#include <cstdint>

namespace eyelevel::disc::circ {

inline constexpr int f1_bytes = 24;
inline constexpr int c2_symbols = 28;
inline constexpr int f2_symbols = 32;     // a C1 word, too
inline constexpr int interleave = 4;      // D of the second delay section, frames
inline constexpr int decode_delay = 111;  // F1-frame n leaves the decoder with F2-frame n + 111 (C.9)

using F1Frame = std::array<std::uint8_t, f1_bytes>;
using C2Word = std::array<std::uint8_t, c2_symbols>;
using F2Frame = std::array<std::uint8_t, f2_symbols>;
using C1Word = std::array<std::uint8_t, f2_symbols>;

// Position in the C2 word of each byte of an F1-frame (figure C.1): words 0 4 8 1 5 9 | 2 6 10 3 7 11.
inline constexpr std::array<std::uint8_t, f1_bytes> position_of_byte = {0,  1,  6,  7,  16, 17, 22, 23, 2,  3,  8,  9,
                                                                        18, 19, 24, 25, 4,  5,  10, 11, 20, 21, 26, 27};

// First delay section: the bytes that stand before the parity wait two frames.
constexpr int first_delay(int position) { return position < 12 ? 2 : 0; }

// Parity symbols leave the encoder inverted.
constexpr bool is_parity(int symbol) { return (symbol >= 12 && symbol < 16) || symbol >= 28; }

}  // namespace eyelevel::disc::circ
