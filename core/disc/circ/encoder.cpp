// SPDX-License-Identifier: Apache-2.0
#include "core/disc/circ/encoder.hpp"

#include <cstddef>

namespace eyelevel::disc::circ {

C2Word c2_of(const F1Frame& now, const F1Frame& two_before) {
  C2Word word{};
  for (std::size_t byte = 0; byte < f1_bytes; ++byte) {
    const std::size_t position = position_of_byte[byte];
    word[position] = first_delay(static_cast<int>(position)) == 0 ? now[byte] : two_before[byte];
  }
  set_q_parity(word);
  return word;
}

F2Frame f2_of(const C1Word& word, const C1Word& word_before) {
  F2Frame frame{};
  for (std::size_t k = 0; k < f2_symbols; ++k) {
    const std::uint8_t symbol = k % 2 == 0 ? word_before[k] : word[k];
    frame[k] = is_parity(static_cast<int>(k)) ? static_cast<std::uint8_t>(~symbol) : symbol;
  }
  return frame;
}

F2Frame Encoder::push(const F1Frame& frame) {
  inputs_[count_ % inputs_.size()] = frame;
  c2_ = c2_of(frame, inputs_[(count_ + inputs_.size() - 2) % inputs_.size()]);
  words_[count_ % history] = c2_;
  const C1Word before = c1_;
  for (std::size_t position = 0; position < c2_symbols; ++position)
    c1_[position] = words_[(count_ + history - interleave * position) % history][position];
  set_p_parity(c1_);
  ++count_;
  return f2_of(c1_, before);
}

}  // namespace eyelevel::disc::circ
