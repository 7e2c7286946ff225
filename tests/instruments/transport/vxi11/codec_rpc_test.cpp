// SPDX-License-Identifier: Apache-2.0
// Byte vectors: RFC 5531, 9 and 11, RFC 1833, 3.1 with the program number of VXI-11's core channel.
#include "instruments/transport/vxi11/codec_rpc.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <vector>

#include "instruments/transport/vxi11/codec.hpp"

using namespace eyelevel::transport::vxi11;

namespace {

std::string hex(std::string_view text) {
  std::string bytes;
  std::string digits;
  for (const char c : text) {
    if (c == ' ') continue;
    digits += c;
    if (digits.size() < 2) continue;
    bytes += static_cast<char>(std::stoi(digits, nullptr, 16));
    digits.clear();
  }
  return bytes;
}

std::string mark(std::uint32_t value) {
  std::string bytes;
  XdrWriter(bytes).u32(value);
  return bytes;
}

struct Records {
  std::vector<std::string> whole;
  std::string open;
  std::string fault;
};

// Pushes a stream through the marks, at most `step` bytes at a time.
Records records_of(std::string_view stream, std::size_t step, std::size_t most) {
  Records records;
  RecordMarks marks(most);
  marks.begin();
  std::size_t at = 0;
  while (at < stream.size()) {
    const auto next = stream.substr(at, step);
    if (marks.needs_mark()) {
      at += marks.mark(next);
    } else {
      const std::size_t count = std::min(next.size(), marks.fragment_left());
      records.open += next.substr(0, count);
      marks.took(count);
      at += count;
    }
    records.fault = marks.fault();
    if (!records.fault.empty()) return records;
    if (marks.record_ended()) {
      records.whole.push_back(std::move(records.open));
      records.open.clear();
      marks.begin();
    }
  }
  return records;
}

}  // namespace

TEST_CASE("rpc: a GETPORT call for the core channel is these bytes, on TCP with its record mark", "[transport]") {
  std::string record;
  begin_record(record);
  record += get_port_call(1, core_program, program_version);
  end_record(record);
  CHECK(record == hex("80 00 00 38  00 00 00 01 00 00 00 00 00 00 00 02 00 01 86 A0 00 00 00 02 00 00 00 03"
                      "00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00"
                      "00 06 07 AF 00 00 00 01 00 00 00 06 00 00 00 00"));
  const auto found = read_call(std::string_view(record).substr(4));
  REQUIRE(found.is_call);
  CHECK(found.right_rpc);
  CHECK(found.call.xid == 1);
  CHECK(found.call.program == portmapper_program);
  CHECK(found.call.version == portmapper_version);
  CHECK(found.call.procedure == 3);
  Mapping mapping;
  REQUIRE(read_mapping(found.arguments, mapping));
  CHECK(mapping.program == core_program);
  CHECK(mapping.protocol == 6);
}

TEST_CASE("rpc: the reply to GETPORT is 28 bytes with the port in the last word", "[transport]") {
  std::string reply;
  append_reply(reply, 1);
  XdrWriter(reply).u32(1024);
  CHECK(reply == hex("00 00 00 01 00 00 00 01 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 04 00"));
  const auto head = read_reply_head(reply);
  CHECK(head.need == 0);
  CHECK(head.xid == 1);
  CHECK(head.fault.empty());
  CHECK(head.refused.empty());
  CHECK(head.head_bytes == 24);
}

TEST_CASE("rpc: a reply head asks for what is missing, byte by byte, and never for too much", "[transport]") {
  // With a verifier of five bytes, padded to eight (RFC 5531, 8.2).
  const std::string reply =
      hex("00 00 00 07 00 00 00 01 00 00 00 00 00 00 00 01 00 00 00 05 61 62 63 64 65 00 00 00"
          "00 00 00 00");
  for (std::size_t have = 0; have < reply.size(); ++have) {
    CAPTURE(have);
    const auto head = read_reply_head(std::string_view(reply).substr(0, have));
    CHECK(head.fault.empty());
    CHECK(head.need > 0);
    CHECK(have + head.need <= reply.size());
  }
  const auto whole = read_reply_head(reply);
  CHECK(whole.need == 0);
  CHECK(whole.xid == 7);
  CHECK(whole.head_bytes == reply.size());
}

TEST_CASE("rpc: replies that refuse a call say why; bytes that are no reply are a fault", "[transport]") {
  const std::string xid_reply = hex("00 00 00 01 00 00 00 01");
  const auto accepted = [&](const char* state) {
    return read_reply_head(xid_reply + hex("00 00 00 00 00 00 00 00 00 00 00 00") + hex(state));
  };
  CHECK(accepted("00 00 00 00").refused.empty());
  CHECK(accepted("00 00 00 01").refused == "the program is not available there");
  CHECK(accepted("00 00 00 02").refused == "the program is there in another version");
  CHECK(accepted("00 00 00 03").refused == "the procedure is not available there");
  CHECK(accepted("00 00 00 04").refused == "the arguments were not understood");
  CHECK(accepted("00 00 00 63").refused == "the call was answered by the unknown state 99");
  CHECK_THAT(read_reply_head(xid_reply + hex("00 00 00 01")).refused, Catch::Contains("denied"));
  CHECK(read_reply_head(xid_reply + hex("00 00 00 02")).fault ==
        "byte 9: reply state 2, 0 (accepted) or 1 (denied) is expected");
  CHECK(read_reply_head(hex("00 00 00 01 00 00 00 00 00 00 00 02")).fault ==
        "byte 5: message type 0, 1 (a reply) is expected");
  CHECK_THAT(read_reply_head(xid_reply + hex("00 00 00 00 00 00 00 00 FF FF FF FF 00 00 00 00")).fault,
             Catch::StartsWith("byte 17: the verifier"));
}

TEST_CASE("rpc: calls that cannot be answered are a fault, a wrong RPC version is for denial", "[transport]") {
  const std::string call = get_port_call(9, 1, 1);
  for (std::size_t have = 0; have < 40; ++have) CHECK_FALSE(read_call(std::string_view(call).substr(0, have)).is_call);
  std::string reply;
  append_reply(reply, 9);
  CHECK(read_call(reply).fault == "byte 5: message type 1, 0 (a call) is expected");
  std::string other = call;
  other[11] = 3;
  const auto found = read_call(other);
  CHECK(found.is_call);
  CHECK_FALSE(found.right_rpc);
  std::string denied;
  append_denied(denied, 9);
  CHECK(denied == hex("00 00 00 09 00 00 00 01 00 00 00 01 00 00 00 00 00 00 00 02 00 00 00 02"));
}

TEST_CASE("rpc records: fragments are joined, whatever pieces the stream comes in (RFC 5531, 11)", "[transport]") {
  const std::string stream = mark(3) + "abc" + mark(0) + mark(2) + "de" + mark(0x80000001) + "f" +  //
                             mark(0x80000000) +                                                     //
                             mark(0x80000004) + "next";
  for (const std::size_t step : {1U, 2U, 3U, 4U, 5U, 7U, 100U}) {
    CAPTURE(step);
    const auto records = records_of(stream, step, 100);
    CHECK(records.fault.empty());
    CHECK(records.whole == std::vector<std::string>{"abcdef", "", "next"});
    CHECK(records.open.empty());
  }
}

TEST_CASE("rpc records: a record beyond the limit is a fault at its mark, before a byte of it is taken",
          "[transport]") {
  CHECK(records_of(mark(0xFFFFFFFF) + "abc", 1, 100).fault ==
        "fragment 1 brings the record to 2147483647 bytes, more than the limit of 100");
  CHECK(records_of(mark(60) + std::string(60, 'x') + mark(41), 100, 100).fault ==
        "fragment 2 brings the record to 101 bytes, more than the limit of 100");
  CHECK(records_of(mark(60) + std::string(60, 'x') + mark(0x80000028) + std::string(40, 'x'), 100, 100)
            .whole.front()
            .size() == 100);
}

TEST_CASE("rpc records: empty fragments without end are a fault", "[transport]") {
  std::string stream;
  for (int i = 0; i < 1000; ++i) stream += mark(0);
  CHECK(records_of(stream, 4, 100).fault == "more than 64 empty fragments");
}
