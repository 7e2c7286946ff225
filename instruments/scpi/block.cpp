// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/block.hpp"

#include <charconv>

namespace eyelevel::scpi {

void append_block_header(std::string& out, std::size_t data_bytes) {
  char digits[24];
  const auto end = std::to_chars(digits, digits + sizeof digits, data_bytes).ptr;
  out += '#';
  out += static_cast<char>('0' + (end - digits));
  out.append(digits, end);
}

void append_block(std::string& out, std::string_view data) {
  append_block_header(out, data.size());
  out += data;
}

BlockHeader read_block_header(std::string_view bytes, std::size_t most) {
  if (bytes.empty() || bytes[0] != '#') return {};
  if (bytes.size() < 2) return {.state = BlockHeaderState::need_more};
  if (bytes[1] == '0') return {.state = BlockHeaderState::indefinite, .header_bytes = 2};
  if (bytes[1] < '1' || bytes[1] > '9') return {};
  const auto digits = static_cast<std::size_t>(bytes[1] - '0');
  std::size_t length = 0;
  for (std::size_t i = 0; i < digits; ++i) {
    if (2 + i >= bytes.size()) return {.state = BlockHeaderState::need_more};
    const char c = bytes[2 + i];
    if (c < '0' || c > '9') return {};
    length = length * 10 + static_cast<std::size_t>(c - '0');
  }
  if (length > most) return {BlockHeaderState::too_large, 2 + digits, length};
  return {BlockHeaderState::complete, 2 + digits, length};
}

}  // namespace eyelevel::scpi
