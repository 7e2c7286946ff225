// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/vxi11/codec_xdr.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::transport::vxi11;

TEST_CASE("xdr: numbers are four bytes, most significant first (RFC 4506, 4.1 to 4.4)", "[transport]") {
  std::string bytes;
  XdrWriter writer(bytes);
  writer.u32(0x01020304);
  writer.i32(-2);
  writer.boolean(true);
  CHECK(bytes == std::string("\x01\x02\x03\x04\xFF\xFF\xFF\xFE\x00\x00\x00\x01", 12));
  XdrReader reader(bytes);
  CHECK(reader.u32("a") == 0x01020304);
  CHECK(reader.i32("b") == -2);
  CHECK(reader.boolean("c"));
  CHECK(reader.good());
  CHECK(reader.rest().empty());
}

TEST_CASE("xdr: opaque data of every length up to eight comes back, padded to four (RFC 4506, 4.10)", "[transport]") {
  for (std::size_t length = 0; length <= 8; ++length) {
    CAPTURE(length);
    const std::string data(length, '\xA5');
    std::string bytes;
    XdrWriter writer(bytes);
    writer.opaque(data);
    writer.u32(7);
    CHECK(bytes.size() == 4 + (length + 3) / 4 * 4 + 4);
    XdrReader reader(bytes);
    CHECK(reader.opaque("data", 8) == data);
    CHECK(reader.u32("behind") == 7);
    CHECK(reader.good());
  }
}

TEST_CASE("xdr: what does not fit is a fault that names field and byte, and everything after it reads as nothing",
          "[transport]") {
  XdrReader few("\x01\x02\x03");
  CHECK(few.u32("the port") == 0);
  CHECK(few.fault() == "byte 1: the port needs 4 bytes, 3 are there");
  CHECK(few.opaque("more", 10).empty());
  CHECK(few.fault() == "byte 1: the port needs 4 bytes, 3 are there");

  const std::string huge(
      "\x00\x00\x00\x01\xFF\xFF\xFF\xFF"
      "abcd",
      12);
  XdrReader over_limit(huge);
  over_limit.u32("first");
  CHECK(over_limit.opaque("the handle", 40).empty());
  CHECK(over_limit.fault() == "byte 5: the handle is said to have 4294967295 bytes, at most 40 are allowed");

  const std::string cut(
      "\x00\x00\x00\x05"
      "abc",
      7);
  XdrReader short_of(cut);
  CHECK(short_of.opaque("the name", 40).empty());
  CHECK(short_of.fault() == "byte 1: the name is said to have 5 bytes, 3 are there");
}

TEST_CASE("xdr: missing padding at the very end is let pass", "[transport]") {
  const std::string bytes(
      "\x00\x00\x00\x05"
      "inst0",
      9);
  XdrReader reader(bytes);
  CHECK(reader.opaque("device", 40) == "inst0");
  CHECK(reader.good());
  CHECK(reader.rest().empty());
}
