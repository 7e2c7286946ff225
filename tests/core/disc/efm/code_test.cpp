// SPDX-License-Identifier: Apache-2.0
#include "core/disc/efm/code.hpp"

#include <catch2/catch.hpp>

#include <set>
#include <string>

#include "tests/core/disc/vectors.hpp"

using namespace eyelevel::disc;
using eyelevel::tests::csv_vectors;

TEST_CASE("efm code: every byte has the codeword of ECMA-130 annex D, and comes back from it", "[disc]") {
  const auto rows = csv_vectors("efm_table.csv");
  REQUIRE(rows.size() == 256);
  for (const auto& row : rows) {
    const int byte = std::stoi(row.at(0));
    const auto bits = std::stoul(row.at(1), nullptr, 2);
    CHECK(efm::codeword(static_cast<std::uint8_t>(byte)) == bits);
    CHECK(efm::decode(static_cast<std::uint32_t>(bits)) == byte);
  }
}

TEST_CASE("efm code: sync pattern, S0 and S1 are those of ECMA-130 19.1 and 19.2", "[disc]") {
  const auto rows = csv_vectors("efm_sync.csv");
  REQUIRE(rows.size() == 3);
  const auto bits = [&](std::size_t row) { return std::stoul(rows.at(row).at(1), nullptr, 2); };
  CHECK(efm::sync_pattern == bits(0));
  CHECK(std::stoi(rows.at(0).at(2)) == efm::sync_bits);
  CHECK(efm::s0_codeword == bits(1));
  CHECK(efm::s1_codeword == bits(2));
  CHECK(efm::decode(efm::s0_codeword) == efm::symbol_s0);
  CHECK(efm::decode(efm::s1_codeword) == efm::symbol_s1);
}

TEST_CASE("efm code: of 16384 groups 258 mean something, the others are invalid", "[disc]") {
  std::set<int> meanings;
  int invalid = 0;
  for (std::uint32_t group = 0; group < 16384; ++group) {
    const int symbol = efm::decode(group);
    if (symbol == efm::symbol_invalid) {
      ++invalid;
    } else {
      CHECK(meanings.insert(symbol).second);
    }
  }
  CHECK(meanings.size() == 258);
  CHECK(invalid == 16384 - 258);
  CHECK(efm::decode(0) == efm::symbol_invalid);
}

TEST_CASE("efm code: the offsets of a frame are those of ECMA-130 19.4", "[disc]") {
  CHECK(efm::merging_offset(0) == 24);
  CHECK(efm::codeword_offset(0) == 27);
  CHECK(efm::merging_offset(1) == 41);
  CHECK(efm::codeword_offset(32) == 571);
  CHECK(efm::merging_offset(efm::frame_symbols) == 585);
  CHECK(efm::merging_offset(efm::frame_symbols) + efm::merging_bits == efm::frame_bits);
}
