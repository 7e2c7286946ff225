// SPDX-License-Identifier: Apache-2.0
// F2-frames in, F1-frames and error counts out: the mirror of ECMA-130 2nd ed. annex C. The standard fixes the code,
// not the decoder; the strategy here: C1 corrects up to one or two symbols, else flags the word; C2 takes up to four
// flags as erasures and one error beside them where the distance allows, else (or if told so) tries two errors. A
// symbol marked as no codeword counts as wrong: a C1 word with more wrong symbols than C1 corrects, marked or found,
// fails. Counts are those of analysis.hpp. One Decoder belongs to one thread.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>

#include "core/disc/analysis.hpp"
#include "core/disc/circ/layout.hpp"
#include "core/disc/circ/reed_solomon.hpp"

namespace eyelevel::disc::circ {

struct DecodedFrame {
  F1Frame bytes{};
  std::uint32_t bad = 0;  // mask of bytes that could not be vouched for
};

// The strategy in one sentence, as it is shown beside counts.
std::string describe(const CircStrategy& strategy);

class Decoder {
 public:
  // c1_corrects other than 1 or 2 is a defect (asserted).
  explicit Decoder(const CircStrategy& strategy = {});
  // The next F2-frame as received. `invalid`: mask of symbols whose 14 bits were no codeword (their value is ignored).
  // Answers F1-frame n - 111 once everything it needs has come (from the 112th frame after start or gap on).
  std::optional<DecodedFrame> push(const F2Frame& frame, std::uint32_t invalid = 0);
  // Frames were lost (sync slipped): history is void, counts go on.
  void gap();
  void reset() { *this = Decoder(strategy_); }

  const C1Counts& c1() const { return c1_; }
  const C2Counts& c2() const { return c2_; }

 private:
  // What C1 makes of a word. Aligned, so that the place of one of many is a shift and no multiplication.
  struct alignas(32) Corrected {
    std::array<std::uint8_t, c2_symbols> symbols{};
    bool flag = false;
  };
  void c1_step(const F2Frame& frame, std::uint32_t invalid, Corrected& out);
  std::uint32_t collect(C2Word& word) const;
  void c2_step(C2Word& word, std::uint32_t& bad);
  void count(const Correction& correction, bool failed);

  static constexpr int history = 128;
  CircStrategy strategy_;
  std::array<Corrected, history> words_{};
  std::int64_t flagged_ = -history;  // the last frame whose word C1 flagged
  std::array<C2Word, 4> corrected_{};
  std::array<std::uint32_t, 4> corrected_bad_{};
  F2Frame before_{};
  std::uint32_t invalid_before_ = 0;
  std::int64_t frames_ = 0;  // since start or gap
  C1Counts c1_;
  std::int64_t uncorrectable_ = 0, wrong_ = 0;  // C1 words in a row, up to now
  bool two_before_ = false;                     // the C1 word before was an E21, not yet found to be beside an E31
  C2Counts c2_;
};

}  // namespace eyelevel::disc::circ
