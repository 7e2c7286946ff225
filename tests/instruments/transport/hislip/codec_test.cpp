// SPDX-License-Identifier: Apache-2.0
// Byte vectors and tables of IVI-6.1 (revision 2.0): header 2.3, messages Table 3 and 4, errors 6.2 and 6.3.
#include "instruments/transport/hislip/codec.hpp"

#include <catch2/catch.hpp>

#include <limits>

using namespace eyelevel::transport::hislip;
using namespace std::string_literals;

namespace {

std::string bytes_of(const Header& header) {
  const auto bytes = encode(header);
  return {bytes.data(), bytes.size()};
}

// Written as hexadecimal digits with spaces.
std::string hex(std::string_view text) {
  std::string bytes;
  for (std::size_t i = 0; i + 1 < text.size(); i += 3)
    bytes += static_cast<char>(std::stoi(std::string(text.substr(i, 2)), nullptr, 16));
  return bytes;
}

}  // namespace

TEST_CASE("hislip codec: Initialize 1.0 of vendor ZZ for hislip0 is these 23 bytes", "[transport]") {
  const Header header{MessageType::initialize, 0, initialize_parameter(version_1_0, "ZZ"), 7};
  CHECK(bytes_of(header) + "hislip0" == hex("48 53 00 00 01 00 5A 5A 00 00 00 00 00 00 00 07 68 69 73 6C 69 70 30"));
}

TEST_CASE("hislip codec: its answer for session 1, synchronised, is these 16 bytes", "[transport]") {
  const std::string bytes = hex("48 53 01 00 01 00 00 01 00 00 00 00 00 00 00 00");
  const Header header{MessageType::initialize_response, 0, initialize_response_parameter(version_1_0, 1), 0};
  CHECK(bytes_of(header) == bytes);
  const auto found = read_header(bytes);
  REQUIRE(found.complete);
  CHECK(found.header == header);
  CHECK(version_in(found.header.parameter) == version_1_0);
  CHECK(session_in(found.header.parameter) == 1);
}

TEST_CASE("hislip codec: the first DataEND with *IDN? and NL is these 22 bytes", "[transport]") {
  const Header header{MessageType::data_end, 0, 0xFFFFFF00, 6};
  CHECK(bytes_of(header) + "*IDN?\n" == hex("48 53 07 00 FF FF FF 00 00 00 00 00 00 00 00 06 2A 49 44 4E 3F 0A"));
}

TEST_CASE("hislip codec: every field comes back from its bytes, up to the largest values", "[transport]") {
  for (unsigned type = 0; type < 256; ++type) {
    for (const std::uint32_t parameter : {0U, 1U, 0x80000000U, 0xFFFFFFFFU}) {
      for (const std::uint64_t length : {std::uint64_t{0}, std::uint64_t{1} << 63U, ~std::uint64_t{0}}) {
        const Header header{static_cast<MessageType>(type), static_cast<std::uint8_t>(255 - type), parameter, length};
        const auto found = read_header(bytes_of(header));
        REQUIRE(found.complete);
        REQUIRE(found.header == header);
      }
    }
  }
}

TEST_CASE("hislip codec: a header is complete with its sixteenth byte", "[transport]") {
  const std::string bytes = bytes_of({MessageType::trigger, 1, 2, 3});
  for (std::size_t count = 0; count < header_bytes; ++count) {
    const auto found = read_header(std::string_view(bytes).substr(0, count));
    CHECK_FALSE(found.complete);
    CHECK(found.fault.empty());
  }
}

TEST_CASE("hislip codec: a wrong prologue is told by its byte, as soon as that byte is here", "[transport]") {
  CHECK(read_header("h").fault == "byte 1 of a message header is \"h\", expected \"H\": this is no HiSLIP");
  CHECK(read_header("HTTP/1.1 400").fault == "byte 2 of a message header is \"T\", expected \"S\": this is no HiSLIP");
  CHECK_FALSE(read_header("SSH-2.0").fault.empty());
}

TEST_CASE("hislip codec: who may send which message on which connection (Tables 3 and 4)", "[transport]") {
  struct Row {
    MessageType type;
    const char* connections;  // s, a
    const char* senders;      // c, s
  };
  const Row rows[] = {
      {MessageType::initialize, "s", "c"},
      {MessageType::initialize_response, "s", "s"},
      {MessageType::fatal_error, "sa", "cs"},
      {MessageType::error, "sa", "cs"},
      {MessageType::async_lock, "a", "c"},
      {MessageType::async_lock_response, "a", "s"},
      {MessageType::data, "s", "cs"},
      {MessageType::data_end, "s", "cs"},
      {MessageType::device_clear_complete, "s", "c"},
      {MessageType::device_clear_acknowledge, "s", "s"},
      {MessageType::async_remote_local_control, "a", "c"},
      {MessageType::async_remote_local_response, "a", "s"},
      {MessageType::trigger, "s", "c"},
      {MessageType::interrupted, "s", "s"},
      {MessageType::async_interrupted, "a", "s"},
      {MessageType::async_maximum_message_size, "a", "c"},
      {MessageType::async_maximum_message_size_response, "a", "s"},
      {MessageType::async_initialize, "a", "c"},
      {MessageType::async_initialize_response, "a", "s"},
      {MessageType::async_device_clear, "a", "c"},
      {MessageType::async_service_request, "a", "s"},
      {MessageType::async_status_query, "a", "c"},
      {MessageType::async_status_response, "a", "s"},
      {MessageType::async_device_clear_acknowledge, "a", "s"},
      {MessageType::async_lock_info, "a", "c"},
      {MessageType::async_lock_info_response, "a", "s"},
  };
  for (const Row& row : rows) {
    const bool size = name_of(row.type).starts_with("AsyncMaximumMessageSize");
    for (const auto connection : {Connection::synchronous, Connection::asynchronous}) {
      for (const auto sender : {Sender::client, Sender::server}) {
        CAPTURE(name_of(row.type), name_of(connection));
        const bool allowed =
            std::string_view(row.connections).find(connection == Connection::synchronous ? 's' : 'a') !=
                std::string_view::npos &&
            std::string_view(row.senders).find(sender == Sender::client ? 'c' : 's') != std::string_view::npos;
        CHECK(fault_of({row.type, 0, 0, size ? 8U : 0U}, connection, sender).empty() == allowed);
      }
    }
  }
}

TEST_CASE("hislip codec: payloads that a message cannot have are told with both numbers", "[transport]") {
  const auto async = Connection::asynchronous;
  CHECK(fault_of({MessageType::async_status_query, 0, 0, 1}, async, Sender::client) ==
        "AsyncStatusQuery has a payload of 1 bytes (bytes 9 to 16), expected none");
  CHECK(fault_of({MessageType::async_maximum_message_size, 0, 0, 7}, async, Sender::client) ==
        "AsyncMaximumMessageSize has a payload of 7 bytes (bytes 9 to 16), expected 8");
  CHECK(fault_of({MessageType::async_lock, 1, 0, 256}, async, Sender::client).empty());
  CHECK(fault_of({MessageType::async_lock, 1, 0, 257}, async, Sender::client) ==
        "AsyncLock has a payload of 257 bytes (bytes 9 to 16), at most 256 are allowed");
  CHECK(fault_of({MessageType::initialize, 0, 0, std::uint64_t{1} << 63U}, Connection::synchronous, Sender::client) ==
        "Initialize has a payload of 9223372036854775808 bytes (bytes 9 to 16), at most 256 are allowed");
  CHECK(fault_of({MessageType::data, 0, 0, std::uint64_t{1} << 63U}, Connection::synchronous, Sender::server).empty());
}

TEST_CASE("hislip codec: undefined and vendor specific types pass, to be answered by an error", "[transport]") {
  const auto unknown = static_cast<MessageType>(39), vendor = static_cast<MessageType>(200);
  CHECK(fault_of({unknown, 0, 0, 1000}, Connection::synchronous, Sender::client).empty());
  CHECK_FALSE(is_defined(unknown));
  CHECK_FALSE(is_vendor_specific(unknown));
  CHECK(is_vendor_specific(vendor));
  CHECK(is_defined(MessageType::authentication_result));
  CHECK(name_of(vendor) == "message type 200");
  CHECK(name_of(MessageType::async_end_tls_response) == "AsyncEndTLSResponse");
}

TEST_CASE("hislip codec: errors have the words of 6.2 and 6.3", "[transport]") {
  CHECK(fatal_error_text(2) == "used before both connections were established");
  CHECK(fatal_error_text(4) == "too many clients");
  CHECK(error_text(4) == "message too large");
  CHECK(error_text(6) == "a code that the standard does not define");
  CHECK(fatal_error_text(128) == "a code of the instrument's own");
}

TEST_CASE("hislip codec: the size of a message is eight bytes, and the header is counted where there is room",
          "[transport]") {
  const auto bytes = encode_size(0x0102030405060708);
  CHECK(std::string(bytes.data(), bytes.size()) == "\x01\x02\x03\x04\x05\x06\x07\x08"s);
  CHECK(read_size(std::string_view(bytes.data(), bytes.size())) == 0x0102030405060708);
  CHECK(usable_payload(0, 1000) == 0);
  CHECK(usable_payload(1, 1000) == 1);
  CHECK(usable_payload(16, 1000) == 16);
  CHECK(usable_payload(17, 1000) == 1);
  CHECK(usable_payload(1000, 1000) == 984);
  CHECK(usable_payload(std::numeric_limits<std::uint64_t>::max(), 1000) == 1000);
}

TEST_CASE("hislip codec: a response ends where its END is; one NL or CR NL is its terminator", "[transport]") {
  struct Row {
    std::string bytes, message;
  };
  const Row rows[] = {
      {"", ""},
      {"\n", ""},
      {"1.5", "1.5"},
      {"1.5\n", "1.5"},
      {"1.5\r\n", "1.5"},
      {"1.5\r", "1.5\r"},
      {"two\nlines\n", "two\nlines"},
      {"a\n\n", "a\n"},
      {"\"#15\",#H1F;#Q7\n", "\"#15\",#H1F;#Q7"},
      {"#13ab\n", "#13ab\n"},  // the NL is data: IEEE 488.2, 8.7.9
      {"#13ab\n\n", "#13ab\n"},
      {"#13a\r\n\r\n", "#13a\r\n"},
      {"#10\n", "#10"},
      {"1,#12\n\n,2;#13;\n,,\"a\"", "1,#12\n\n,2;#13;\n,,\"a\""},
      {"#0ab\n", "#0ab"},  // 8.7.10: it ends with NL and END
      {"#0a\r\n", "#0a\r"},
      {"#0ab", "#0ab"},
      {"\xb5V \xff\n", "\xb5V \xff"},
      {"text #15", "text #15"},  // no block begins inside an element
  };
  for (const Row& row : rows) {
    CAPTURE(row.bytes);
    const auto found = read_ended_response(row.bytes, 1000);
    CHECK(found.fault.empty());
    CHECK(row.bytes.substr(0, found.message_bytes) == row.message);
  }
}

TEST_CASE("hislip codec: an end that contradicts the header of a block is told with the place and the numbers",
          "[transport]") {
  CHECK(read_ended_response("#15abc\n", 1000).fault ==
        "the block at byte 1 announces 5 bytes, but the answer ends 1 bytes too early");
  CHECK(read_ended_response("1,#15", 1000).fault ==
        "the block at byte 3 announces 5 bytes, but the answer ends 5 bytes too early");
  CHECK(read_ended_response("#13abcd\n", 1000).fault ==
        "byte 7 should end the block that came before it, but is \"d\"");
  CHECK(read_ended_response("#51", 1000).fault == "the answer ends inside the header of the block at byte 1");
  CHECK(read_ended_response("#41001", 1000).fault ==
        "the block at byte 1 announces 1001 bytes, more than the limit of 1000");
}
