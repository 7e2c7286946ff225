// SPDX-License-Identifier: Apache-2.0
#include "core/disc/circ/decoder.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cassert>
#include <cstddef>

#include "core/quantity/counted.hpp"

namespace eyelevel::disc::circ {
namespace {

constexpr std::uint32_t even_symbols = 0x55555555;
constexpr std::uint32_t all_c2_symbols = (1U << c2_symbols) - 1;
constexpr int oldest = interleave * (c2_symbols - 1);  // frames from the first to the last symbol of a C2 word

// The symbols of a C1 word come from two frames in turn, and parity is inverted (annex C): masks of each symbol.
struct Masks {
  C1Word of_this{}, inverted{};
};
constexpr Masks make_masks() {
  Masks masks;
  for (std::size_t k = 0; k < f2_symbols; ++k) {
    masks.of_this[k] = k % 2 == 0 ? 0xFF : 0;
    masks.inverted[k] = is_parity(static_cast<int>(k)) ? 0xFF : 0;
  }
  return masks;
}
constexpr Masks masks = make_masks();

// The bytes of an F1-frame: the half behind the parity comes from the word two frames earlier (first delay section).
F1Frame put_together(const C2Word& late, const C2Word& early) {
  F1Frame bytes;
#pragma clang loop unroll(full)
  for (std::size_t byte = 0; byte < f1_bytes; ++byte) {
    const std::size_t position = position_of_byte[byte];
    bytes[byte] = position < 12 ? late[position] : early[position];
  }
  return bytes;
}

// Marks of C2 words as marks of the bytes of an F1-frame.
std::uint32_t bad_bytes(std::uint32_t late, std::uint32_t early) {
  std::uint32_t bad = 0;
  for (std::size_t byte = 0; byte < f1_bytes; ++byte) {
    const std::size_t position = position_of_byte[byte];
    bad |= ((position < 12 ? late : early) >> position & 1U) << byte;
  }
  return bad;
}

}  // namespace

std::string describe(const CircStrategy& strategy) {
  return fmt::format(
      "C1 corrects up to {} and flags a word with more; C2 {} two wrong symbols",
      quantity::counted(strategy.c1_corrects, "wrong symbol"),
      strategy.c2_erasures ? "takes up to four flags as erasures, else corrects up to" : "corrects up to");
}

Decoder::Decoder(const CircStrategy& strategy) : strategy_(strategy) {
  assert(strategy.c1_corrects == 1 || strategy.c1_corrects == 2);
}

void Decoder::count(const Correction& correction, bool failed) {
  ++c1_.words;
  const bool two = !failed && correction.wrong == 2;
  if (failed) {
    ++c1_.e31;
    if (two_before_) ++c1_.e21_beside_e31;
  } else if (correction.wrong == 1) {
    ++c1_.e11;
  } else if (two) {
    ++c1_.e21;
    if (uncorrectable_ > 0) ++c1_.e21_beside_e31;
  }
  two_before_ = two && uncorrectable_ == 0;
  uncorrectable_ = failed ? uncorrectable_ + 1 : 0;
  wrong_ = failed || correction.wrong > 0 ? wrong_ + 1 : 0;
  c1_.uncorrectable_longest = std::max(c1_.uncorrectable_longest, uncorrectable_);
  c1_.wrong_longest = std::max(c1_.wrong_longest, wrong_);
}

void Decoder::c1_step(const F2Frame& frame, std::uint32_t invalid, Corrected& out) {
  C1Word word;
  for (std::size_t k = 0; k < f2_symbols; ++k) {
    const int symbol = (frame[k] & masks.of_this[k]) | (before_[k] & ~masks.of_this[k]);
    word[k] = static_cast<std::uint8_t>(symbol ^ masks.inverted[k]);
  }
  const std::uint32_t marked = (invalid & even_symbols) | (invalid_before_ & ~even_symbols);

  // Marks do not help to correct, so that the counts are those of a decoder without them; they only stop a correction
  // that leaves a symbol standing which was no codeword.
  const Correction correction = is_c1_word(word) ? Correction{} : correct(word, 0, strategy_.c1_corrects);
  const int wrong = correction.wrong + std::popcount(marked & ~correction.where);
  const bool failed = correction.failed || wrong > strategy_.c1_corrects;
  count(correction, failed);
  std::copy_n(word.begin(), c2_symbols, out.symbols.begin());
  out.flag = failed;
  if (failed) flagged_ = frames_;
}

// The symbols of a C2 word from 28 C1 words; answers the flags of these.
std::uint32_t Decoder::collect(C2Word& word) const {
  const auto now = static_cast<std::size_t>(frames_);
  const auto source = [&](std::size_t k) -> const Corrected& {
    return words_[(now - interleave * (c2_symbols - 1 - k)) % history];
  };
#pragma clang loop unroll(full)
  for (std::size_t k = 0; k < c2_symbols; ++k) word[k] = source(k).symbols[k];
  std::uint32_t flags = 0;
  if (frames_ - flagged_ > oldest) return flags;
  for (std::size_t k = 0; k < c2_symbols; ++k) flags |= (source(k).flag ? 1U : 0U) << k;
  return flags;
}

void Decoder::c2_step(C2Word& word, std::uint32_t& bad) {
  const std::uint32_t flags = collect(word);
  Correction correction;
  if (!is_c2_word(word)) {
    const int flagged = std::popcount(flags);
    if (strategy_.c2_erasures && flagged >= 1 && flagged <= 4) {
      correction = correct(word, flags, 1);
    } else {
      correction = correct(word, 0, 2);
      // Many flags, and an error where none stands: rather a wrong repair than a wrong symbol that C1 let pass.
      if (flagged > 4 && (correction.where & ~flags) != 0) correction.failed = true;
    }
  }
  ++c2_.words;
  if (correction.failed) {
    ++c2_.e32;
  } else if (correction.wrong == 1) {
    ++c2_.e12;
  } else if (correction.wrong > 1) {
    ++c2_.e22;
  }
  bad = !correction.failed ? 0 : flags != 0 ? flags : all_c2_symbols;
}

std::optional<DecodedFrame> Decoder::push(const F2Frame& frame, std::uint32_t invalid) {
  std::optional<DecodedFrame> out;
  if (frames_ > 0) {  // a C1 word takes its odd symbols from the frame before
    const auto now = static_cast<std::size_t>(frames_);
    c1_step(frame, invalid, words_[now % history]);
    if (frames_ > oldest) c2_step(corrected_[now % 4], corrected_bad_[now % 4]);
    if (frames_ > oldest + 2) {
      out.emplace(DecodedFrame{put_together(corrected_[now % 4], corrected_[(now - 2) % 4])});
      const std::uint32_t late_bad = corrected_bad_[now % 4], early_bad = corrected_bad_[(now - 2) % 4];
      if ((late_bad | early_bad) != 0) out->bad = bad_bytes(late_bad, early_bad);
    }
  }
  before_ = frame;
  invalid_before_ = invalid;
  ++frames_;
  return out;
}

void Decoder::gap() {
  frames_ = 0;
  flagged_ = -history;
  uncorrectable_ = wrong_ = 0;
  two_before_ = false;
}

}  // namespace eyelevel::disc::circ
