// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/usbtmc/codec.hpp"

#include <catch2/catch.hpp>

#include <set>

using namespace eyelevel::transport::usbtmc;

namespace {

// "01 02 FE" as bytes.
std::string hex(std::string_view text) {
  std::string out;
  for (std::size_t at = 0; at + 1 < text.size(); at += 3)
    out += static_cast<char>(std::stoi(std::string(text.substr(at, 2)), nullptr, 16));
  return out;
}

std::string message_out(std::uint8_t tag, std::string_view data, bool end = true) {
  std::string out;
  append_message_out(out, tag, data, end);
  return out;
}

}  // namespace

TEST_CASE("usbtmc codec: *IDN? with bTag 1 is the bytes of USB488 Table 3", "[usbtmc]") {
  const std::string expected = hex("01 01 FE 00 06 00 00 00 01 00 00 00 2A 49 44 4E 3F 0A 00 00");
  CHECK(message_out(1, "*IDN?\n") == expected);
  std::string with_nl_apart;
  append_message_out(with_nl_apart, 1, "*IDN?", true, '\n');
  CHECK(with_nl_apart == expected);
}

TEST_CASE("usbtmc codec: a request of 100 bytes with bTag 2 is the bytes of USB488 Table 4", "[usbtmc]") {
  std::string out;
  append_request_in(out, 2, 100);
  CHECK(out == hex("02 02 FD 00 64 00 00 00 00 00 00 00"));
}

TEST_CASE("usbtmc codec: TRIGGER is a header of zeros behind the tag (USB488 Table 2)", "[usbtmc]") {
  std::string out;
  append_trigger(out, 0x10);
  CHECK(out == hex("80 10 EF 00 00 00 00 00 00 00 00 00"));
  CHECK(fault_of_out_transfer(out).empty());
}

TEST_CASE("usbtmc codec: a Bulk-OUT transfer is padded to a multiple of four and its end is optional (USBTMC 3.2)",
          "[usbtmc]") {
  for (std::size_t size = 1; size < 30; ++size) {
    CAPTURE(size);
    const std::string data(size, 'x');
    const std::string out = message_out(7, data, size % 2 == 0);
    CHECK(out.size() % 4 == 0);
    CHECK(out.size() < header_bytes + size + 4);
    const auto header = read_header(out);
    REQUIRE(header);
    CHECK(header->transfer_size == size);
    CHECK((header->attributes & eom_bit) == (size % 2 == 0 ? 1 : 0));
    CHECK(out.substr(header_bytes, size) == data);
    CHECK(fault_of_out_transfer(out).empty());
  }
}

TEST_CASE("usbtmc codec: tags run from 1 to 255 and never repeat at once; status tags from 2 to 127", "[usbtmc]") {
  std::set<int> tags;
  std::uint8_t tag = 1;
  for (int i = 0; i < 255; ++i) {
    CHECK(next_tag(tag) != tag);
    tag = next_tag(tag);
    tags.insert(tag);
  }
  CHECK(tags.size() == 255);
  CHECK(tags.count(0) == 0);
  std::set<int> status_tags;
  std::uint8_t status_tag = 0;
  for (int i = 0; i < 200; ++i) status_tags.insert(status_tag = next_status_tag(status_tag));
  CHECK(*status_tags.begin() == 2);
  CHECK(*status_tags.rbegin() == 127);
  CHECK(status_tags.size() == 126);
}

TEST_CASE("usbtmc codec: what a device must refuse is told with the byte (USBTMC Table 7)", "[usbtmc]") {
  const std::string good = message_out(5, "*RST\n");
  struct Case {
    std::size_t byte;
    int value;
    std::string says;
  };
  for (const auto& [byte, value, says] :
       {Case{0, 0, "MsgID 0"}, Case{0, 3, "MsgID 3"}, Case{0, 126, "vendor"}, Case{0, 255, "MsgID 255"},
        Case{1, 0, "bTag, is 0"}, Case{1, 6, "byte 2 is 0xFA"}, Case{2, 0, "byte 2 is 0x00"},
        Case{4, 0, "TransferSize, are 0"}, Case{4, 200, "TransferSize is 200, but 8"}, Case{7, -1, "TransferSize is"},
        Case{4, 1, "TransferSize is 1, but 8"}, Case{0, 2, "behind the header of a request"},
        Case{0, 128, "behind the header of TRIGGER"}}) {
    CAPTURE(byte, value);
    std::string bad = good;
    bad[byte] = static_cast<char>(value);
    CHECK_THAT(fault_of_out_transfer(bad), Catch::Contains(says));
  }
  for (std::size_t size = 0; size < header_bytes + 5; ++size) {
    CAPTURE(size);
    CHECK_FALSE(fault_of_out_transfer(good.substr(0, size)).empty());
  }
  CHECK(fault_of_out_transfer(good.substr(0, header_bytes + 5)).empty());  // only the padding is missing
}

TEST_CASE("usbtmc codec: the header of an answer must repeat MsgID, bTag and its inverse (USBTMC 3.3)", "[usbtmc]") {
  std::string bytes;
  append_message_in_header(bytes, 9, 100, eom_bit);
  CHECK(bytes == hex("02 09 F6 00 64 00 00 00 01 00 00 00"));
  const auto header = read_header(bytes);
  REQUIRE(header);
  CHECK(check_in_header(*header, {.tag = 9, .most_bytes = 100}).fault == InFault::none);
  CHECK(check_in_header(*header, {.tag = 9, .most_bytes = 99}).fault == InFault::transfer_size);
  CHECK(check_in_header(*header, {.tag = 10, .most_bytes = 100}).fault == InFault::tag);
  auto wrong = *header;
  wrong.msg_id = 1;
  CHECK(check_in_header(wrong, {.tag = 9, .most_bytes = 100}).fault == InFault::msg_id);
  wrong = *header;
  wrong.tag_inverse = 9;
  CHECK(check_in_header(wrong, {.tag = 9, .most_bytes = 100}).fault == InFault::tag_inverse);
  CHECK_FALSE(read_header(std::string_view(bytes).substr(0, 11)));
}

TEST_CASE("usbtmc codec: class requests have the numbers, types and lengths of USBTMC Table 15 and USB488 Table 9",
          "[usbtmc]") {
  CHECK(setup_of(Request::initiate_abort_bulk_out, 7, 0x02) == Setup{0xA2, 1, 7, 0x02, 2});
  CHECK(setup_of(Request::check_abort_bulk_out_status, 0, 0x02) == Setup{0xA2, 2, 0, 0x02, 8});
  CHECK(setup_of(Request::initiate_abort_bulk_in, 7, 0x81) == Setup{0xA2, 3, 7, 0x81, 2});
  CHECK(setup_of(Request::check_abort_bulk_in_status, 0, 0x81) == Setup{0xA2, 4, 0, 0x81, 8});
  CHECK(setup_of(Request::initiate_clear, 0, 1) == Setup{0xA1, 5, 0, 1, 1});
  CHECK(setup_of(Request::check_clear_status, 0, 1) == Setup{0xA1, 6, 0, 1, 2});
  CHECK(setup_of(Request::get_capabilities, 0, 1) == Setup{0xA1, 7, 0, 1, 24});
  CHECK(setup_of(Request::indicator_pulse, 0, 1) == Setup{0xA1, 64, 0, 1, 1});
  CHECK(setup_of(Request::read_status_byte, 2, 1) == Setup{0xA1, 128, 2, 1, 3});
  CHECK(setup_of(Request::ren_control, 1, 1) == Setup{0xA1, 160, 1, 1, 1});
  CHECK(setup_of(Request::go_to_local, 0, 1) == Setup{0xA1, 161, 0, 1, 1});
  CHECK(setup_of(Request::local_lockout, 0, 1) == Setup{0xA1, 162, 0, 1, 1});
  CHECK(request_of({0xA1, 7, 0, 0, 24}) == Request::get_capabilities);
  CHECK_FALSE(request_of({0xA2, 7, 0, 0, 24}));
  CHECK_FALSE(request_of({0x21, 160, 1, 0, 0}));
  CHECK(name_of(Request::check_clear_status) == "CHECK_CLEAR_STATUS");
  CHECK(name_of(Status::transfer_not_in_progress) == "STATUS_TRANSFER_NOT_IN_PROGRESS");
  CHECK(name_of(Status{0x17}) == "status 0x17");
}

TEST_CASE("usbtmc codec: answers of class requests have their fields where the tables put them", "[usbtmc]") {
  const Answer aborted{.status = Status::pending, .fifo_not_empty = true, .bytes = 0x01020304};
  CHECK(answer_bytes(Request::check_abort_bulk_in_status, aborted) == hex("02 01 00 00 04 03 02 01"));
  CHECK(read_answer(Request::check_abort_bulk_in_status, hex("02 01 00 00 04 03 02 01")) == aborted);
  const Answer received{.status = Status::success, .bytes = 512};
  CHECK(answer_bytes(Request::check_abort_bulk_out_status, received) == hex("01 00 00 00 00 02 00 00"));
  CHECK(read_answer(Request::check_abort_bulk_out_status, hex("01 00 00 00 00 02 00 00")) == received);
  const Answer begun{.status = Status::success, .tag = 9};
  CHECK(answer_bytes(Request::initiate_abort_bulk_in, begun) == hex("01 09"));
  CHECK(read_answer(Request::initiate_abort_bulk_in, hex("01 09")) == begun);
  const Answer cleared{.status = Status::pending, .fifo_not_empty = true};
  CHECK(answer_bytes(Request::check_clear_status, cleared) == hex("02 01"));
  CHECK(read_answer(Request::check_clear_status, hex("02 01")) == cleared);
  const Answer polled{.status = Status::success, .tag = 2, .status_byte = 0x60};
  CHECK(answer_bytes(Request::read_status_byte, polled) == hex("01 02 60"));
  CHECK(read_answer(Request::read_status_byte, hex("01 02 60")) == polled);
  CHECK(answer_bytes(Request::ren_control, begun) == hex("01"));
}

TEST_CASE("usbtmc codec: an answer that is too short says so, and without a status it is none", "[usbtmc]") {
  CHECK_FALSE(read_answer(Request::initiate_clear, ""));
  const auto failed = read_answer(Request::check_abort_bulk_in_status, hex("80"));
  REQUIRE(failed);
  CHECK(failed->status == Status::failed);
  CHECK_FALSE(failed->complete);
  CHECK(failed->bytes == 0);
}

TEST_CASE("usbtmc codec: capabilities stand at the offsets of USBTMC Table 37 and USB488 Table 8", "[usbtmc]") {
  const Capabilities all{.bcd_usbtmc = 0x0100,
                         .bcd_usb488 = 0x0100,
                         .listen_only = false,
                         .talk_only = false,
                         .indicator_pulse = true,
                         .term_char = true,
                         .trigger = true,
                         .remote_local = true,
                         .is_488_2 = true,
                         .dt1 = true,
                         .rl1 = true,
                         .sr1 = true,
                         .understands_scpi = true};
  const std::string bytes = hex("01 00 00 01 04 01 00 00 00 00 00 00 00 01 07 0F 00 00 00 00 00 00 00 00");
  CHECK(capabilities_answer(all) == bytes);
  CHECK(read_capabilities(bytes) == all);
  CHECK_FALSE(read_capabilities(""));
  CHECK_FALSE(read_capabilities(hex("80 00 00 01")));
  const auto plain = read_capabilities(hex("01 00 00 01 02 00"));  // cut after byte 5: no USB488
  REQUIRE(plain);
  CHECK(plain->talk_only);
  CHECK_FALSE(plain->trigger);
}

TEST_CASE("usbtmc codec: interrupt packets are sorted by their first byte (USB488 Tables 6 and 7)", "[usbtmc]") {
  using Kind = InterruptPacket::Kind;
  CHECK(read_interrupt(hex("81 60")) == InterruptPacket{Kind::service_request, 0, 0x60});
  CHECK(read_interrupt(hex("82 20")) == InterruptPacket{Kind::status_answer, 2, 0x20});
  CHECK(read_interrupt(hex("FF 01")) == InterruptPacket{Kind::status_answer, 127, 1});
  CHECK(service_request_packet(0x60) == hex("81 60"));
  CHECK(status_answer_packet(127, 1) == hex("FF 01"));
  // Met in the field: a service request without its status byte, or with bytes behind it.
  CHECK(read_interrupt(hex("81")).kind == Kind::service_request);
  CHECK(read_interrupt(hex("81 40 00 00")).status_byte == 0x40);
  for (const char* other : {"", "00 00", "41 00", "80 00", "82"}) {
    CAPTURE(other);
    CHECK(read_interrupt(hex(other)).kind == Kind::other);
  }
}
