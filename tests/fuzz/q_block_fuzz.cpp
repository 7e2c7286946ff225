// SPDX-License-Identifier: Apache-2.0
// Twelve bytes at a time are any Q block: whatever they hold, what is said of them must be consistent, and a block that
// is usable must be told in words without leaving its ranges.
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <vector>

#include "core/disc/subcode/q.hpp"

using namespace eyelevel::disc;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::vector<std::uint8_t> input(data, data + size);
  std::vector<QBlock> blocks;
  for (std::size_t at = 0; at + 10 <= input.size(); at += 10) {
    // The CRC is made right in every second block, or nothing would get past it.
    subcode::QBytes bytes{};
    std::copy_n(input.begin() + static_cast<std::ptrdiff_t>(at), 10, bytes.begin());
    if (at / 10 % 2 == 0) bytes = subcode::build_q(subcode::Payload(bytes.data(), 10));
    const QBlock block = subcode::parse_q(bytes);
    if (block.absolute && (block.absolute->minute > 99 || block.absolute->second > 99 || block.absolute->frame > 99))
      std::abort();
    if (subcode::is_usable(block) != (subcode::is_usable(block) && block.crc)) std::abort();
    if (!subcode::phrase(block).empty() && !subcode::is_usable(block)) std::abort();
    blocks.push_back(block);
  }
  for (std::size_t i = 1; i < blocks.size(); ++i)
    if (subcode::continues(blocks[i - 1], blocks[i], 1) && !subcode::is_usable(blocks[i])) std::abort();
  return 0;
}
