// SPDX-License-Identifier: Apache-2.0
#include "core/record/archive/frame.hpp"

#include <catch2/catch.hpp>

#include <sstream>

using namespace eyelevel;
using namespace eyelevel::record;

namespace {

std::string two_lines() {
  std::ostringstream out;
  FrameWriter writer(out);
  writer.put(R"({"run":"2030-01-07-1"})");
  writer.put({{"chunk", 7}}, std::string("a\nb\0c", 5));
  return out.str();
}

}  // namespace

// RFC 1952 clause 8; the check value is the one that catalogues of checksums give for CRC-32/ISO-HDLC (from memory).
TEST_CASE("frames: the checksum is the usual CRC-32", "[record]") {
  CHECK(checksum_of("123456789") == "cbf43926");
  CHECK(checksum_of("1234", "56789") == "cbf43926");
}

TEST_CASE("frames: a line comes back as it was put, bytes and all", "[record]") {
  std::istringstream in(two_lines());
  FrameReader reader(in, "x");
  CHECK(reader.next().text == R"({"run":"2030-01-07-1"})");
  CHECK_FALSE(reader.is_over());
  const Frame second = reader.next();
  CHECK(second.line == 2);
  CHECK(second.bytes == std::string("a\nb\0c", 5));
  CHECK(reader.is_over());
}

TEST_CASE("frames: cut anywhere, or with one bit turned, nothing wrong is read", "[record]") {
  const std::string whole = two_lines();
  const auto read = [](const std::string& text) {
    std::istringstream in(text);
    FrameReader reader(in, "x");
    return std::pair(reader.next().text, reader.next().bytes);
  };
  for (std::size_t length = 0; length < whole.size(); ++length) {
    CAPTURE(length);
    CHECK_THROWS_WITH(read(whole.substr(0, length)), Catch::Contains("x:") && Catch::Contains("nothing of it"));
  }
  for (std::size_t i = 0; i < whole.size() * 8; ++i) {
    CAPTURE(i);
    std::string damaged = whole;
    damaged[i / 8] = static_cast<char>(damaged[i / 8] ^ (1 << (i % 8)));
    CHECK_THROWS_AS(read(damaged), base::Error);
  }
}
