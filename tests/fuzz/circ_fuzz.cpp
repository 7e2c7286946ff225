// SPDX-License-Identifier: Apache-2.0
// Any bytes as F2-frames with any marks: the decoder must stay in its bounds, count every word once, and vouch only for
// bytes it has put out.
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <vector>

#include "core/disc/circ/decoder.hpp"

using namespace eyelevel::disc::circ;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::vector<std::uint8_t> input(data, data + size);
  // The last byte chooses the strategy.
  const unsigned choice = input.empty() ? 0 : input.back();
  Decoder decoder({.c1_corrects = choice % 2 == 0 ? 2 : 1, .c2_erasures = choice / 2 % 2 == 0});
  std::int64_t frames = 0;
  // A record is a command byte and up to 32 symbols: frames are mostly silence, so that words are near codewords.
  for (std::size_t at = 0; at + 4 <= input.size(); at += 4) {
    const std::uint8_t command = input[at];
    if (command == 0xFF) decoder.gap();
    F2Frame frame{};
    for (int k = 0; k < f2_symbols; ++k) frame[static_cast<std::size_t>(k)] = is_parity(k) ? 0xFF : 0x00;
    frame[input[at + 1] % f2_symbols] ^= input[at + 2];
    frame[input[at + 3] % f2_symbols] ^= input[at + 1];
    if (command % 4 == 1) frame.fill(input[at + 2]);
    const std::uint32_t invalid = command % 3 == 0 ? std::uint32_t{command} * 0x01010101U : 0U;
    for (int repeat = 0; repeat < 1 + command % 8; ++repeat, ++frames) {
      const auto out = decoder.push(frame, invalid);
      if (out && out->bad >> f1_bytes != 0) std::abort();
    }
  }
  const auto& c1 = decoder.c1();
  const auto& c2 = decoder.c2();
  if (c1.words > frames || c1.e11 + c1.e21 + c1.e31 > c1.words) std::abort();
  if (c1.e21_beside_e31 > c1.e21 || c1.uncorrectable_longest > c1.e31) std::abort();
  if (c1.wrong_longest > c1.e11 + c1.e21 + c1.e31 || c1.wrong_longest < c1.uncorrectable_longest) std::abort();
  if (c2.words > c1.words || c2.e12 + c2.e22 + c2.e32 > c2.words) std::abort();
  return 0;
}
