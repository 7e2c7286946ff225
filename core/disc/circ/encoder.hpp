// SPDX-License-Identifier: Apache-2.0
// F1-frames in, F2-frames out: ECMA-130 2nd ed. annex C, C.2 to C.6. Two ways to the same bytes: Encoder takes frame
// after frame, c1_word_at() makes any word at once from a source of F1-frames that can be read in any order. All delay
// lines start as if preceded by endless zero frames. One Encoder belongs to one thread.
#pragma once

#include <array>
#include <cstdint>

#include "core/disc/circ/layout.hpp"
#include "core/disc/circ/reed_solomon.hpp"

namespace eyelevel::disc::circ {

class Encoder {
 public:
  // The F2-frame that leaves as this F1-frame enters.
  F2Frame push(const F1Frame& frame);
  void reset() { *this = Encoder(); }
  // The words formed at the last push, parity not yet inverted (for tests and diagnosis).
  const C2Word& last_c2() const { return c2_; }
  const C1Word& last_c1() const { return c1_; }

 private:
  static constexpr int history = 128;  // at least 27 * interleave + 1, a power of two
  std::array<F1Frame, 4> inputs_{};    // first delay section
  std::array<C2Word, history> words_{};
  C2Word c2_{};
  C1Word c1_{};
  std::uint64_t count_ = 0;
};

// The C1 word formed when F1-frame n enters, parity not inverted. Source: std::uint8_t byte(std::int64_t frame, int
// index) and F1Frame frame(std::int64_t frame); both must hold for every frame from n - 110 on.
template <class Source>
C1Word c1_word_at(const Source& source, std::int64_t n);

// The F2-frame from its C1 word and the one before: third delay section and inversion.
F2Frame f2_of(const C1Word& word, const C1Word& word_before);

// The C2 word formed when F1-frame `now` enters and `two_before` entered two frames earlier; parity set.
C2Word c2_of(const F1Frame& now, const F1Frame& two_before);

// ---------------------------------------------------------------------------------------------------------------------

template <class Source>
C1Word c1_word_at(const Source& source, std::int64_t n) {
  C1Word word{};
  for (int byte = 0; byte < f1_bytes; ++byte) {
    const int position = position_of_byte[static_cast<std::size_t>(byte)];
    word[static_cast<std::size_t>(position)] = source.byte(n - interleave * position - first_delay(position), byte);
  }
  for (int position = 12; position < 16; ++position) {
    const std::int64_t formed = n - interleave * position;
    word[static_cast<std::size_t>(position)] =
        c2_of(source.frame(formed), source.frame(formed - 2))[static_cast<std::size_t>(position)];
  }
  set_p_parity(word);
  return word;
}

}  // namespace eyelevel::disc::circ
