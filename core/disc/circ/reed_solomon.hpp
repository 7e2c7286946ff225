// SPDX-License-Identifier: Apache-2.0
// Reed-Solomon words with four parity symbols over GF(2^8), x^8 + x^4 + x^3 + x^2 + 1, roots 1, a, a^2, a^3: the C1
// (32,28) and C2 (28,24) codes of ECMA-130 2nd ed. annex C.7. Position 0 of a word is its highest power.
// Pure functions; tables are built once, on first use. Not for delays and flags: encoder.hpp, decoder.hpp.
#pragma once

#include <array>
#include <cstdint>
#include <span>

#include "core/disc/circ/layout.hpp"

namespace eyelevel::disc::circ {

// Arithmetic of the field. inverse(0) and log(0) are defects (asserted).
std::uint8_t multiply(std::uint8_t a, std::uint8_t b);
std::uint8_t inverse(std::uint8_t a);
std::uint8_t alpha_power(int exponent);  // any exponent, taken mod 255

using Syndromes = std::array<std::uint8_t, 4>;
Syndromes syndromes_of(std::span<const std::uint8_t> word);  // at most 255 symbols

// Fill in the parity symbols so that all syndromes are zero: Q at 12..15 of a C2 word, P at 28..31 of a C1 word.
void set_q_parity(C2Word& word);
void set_p_parity(C1Word& word);
// Whether all syndromes are zero, ten times faster than working them out.
bool is_c2_word(const C2Word& word);
bool is_c1_word(const C1Word& word);

// What became of one word.
struct Correction {
  bool failed = false;      // the word is left as it was
  int wrong = 0;            // symbols changed
  std::uint32_t where = 0;  // mask of the symbols changed
};

// Corrects e errors beside the erasures in the mask `erased` as long as 2 e + (number of erasures) <= 4 and e <=
// `errors_max`. Words of at most 32 symbols.
Correction correct(std::span<std::uint8_t> word, std::uint32_t erased, int errors_max);

}  // namespace eyelevel::disc::circ
