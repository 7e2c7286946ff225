// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/block.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::scpi;

TEST_CASE("blocks: the header says how many digits and how many bytes", "[scpi]") {
  // Byte vectors of the interface facts: #13 + 3 bytes, #540000 + 40000 bytes (IEEE 488.2, 7.7.6).
  std::string small;
  append_block(small, "abc");
  CHECK(small == "#13abc");
  std::string large;
  append_block(large, std::string(40000, 'x'));
  CHECK(large.substr(0, 7) == "#540000");
  CHECK(large.size() == 40007);
  std::string empty;
  append_block(empty, "");
  CHECK(empty == "#10");
}

TEST_CASE("blocks: a header is read to the byte, and every beginning of one asks for more", "[scpi]") {
  const std::string header = "#6001234";
  for (std::size_t length = 1; length < header.size(); ++length)
    CHECK(read_block_header(header.substr(0, length)).state == BlockHeaderState::need_more);
  const auto read = read_block_header(header);
  CHECK(read.state == BlockHeaderState::complete);
  CHECK(read.header_bytes == 8);
  CHECK(read.data_bytes == 1234);
}

TEST_CASE("blocks: what is no definite block is told apart", "[scpi]") {
  CHECK(read_block_header("#0abc").state == BlockHeaderState::indefinite);
  CHECK(read_block_header("#H1F").state == BlockHeaderState::bad);
  CHECK(read_block_header("#3-12").state == BlockHeaderState::bad);
  CHECK(read_block_header("#31 2").state == BlockHeaderState::bad);
  CHECK(read_block_header("").state == BlockHeaderState::bad);
  CHECK(read_block_header("x").state == BlockHeaderState::bad);
}

TEST_CASE("blocks: an announced length beyond the limit is refused, never believed", "[scpi]") {
  CHECK(read_block_header("#9999999999").state == BlockHeaderState::too_large);
  CHECK(read_block_header("#3101", 100).state == BlockHeaderState::too_large);
  CHECK(read_block_header("#3100", 100).state == BlockHeaderState::complete);
}
