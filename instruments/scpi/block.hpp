// SPDX-License-Identifier: Apache-2.0
// Definite-length arbitrary blocks (IEEE 488.2, 7.7.6 and 8.7.9): '#', one digit n, n digits with the byte count, that
// many bytes. Header lengths come from outside and are never believed beyond a limit.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

namespace eyelevel::scpi {

inline constexpr std::size_t most_block_bytes = std::size_t{256} << 20U;

void append_block_header(std::string& out, std::size_t data_bytes);
void append_block(std::string& out, std::string_view data);

enum class BlockHeaderState {
  complete,    // header_bytes and data_bytes are known
  need_more,   // a legal beginning, too short yet
  indefinite,  // #0: only possible where the transport carries END
  bad,         // not a block header
  too_large,   // more than `most` bytes announced
};

struct BlockHeader {
  BlockHeaderState state = BlockHeaderState::bad;
  std::size_t header_bytes = 0;
  std::size_t data_bytes = 0;
};

// `bytes` begins with the '#'.
BlockHeader read_block_header(std::string_view bytes, std::size_t most = most_block_bytes);

}  // namespace eyelevel::scpi
