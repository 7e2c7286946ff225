// SPDX-License-Identifier: Apache-2.0
// The bytes of USBTMC 1.0 (2003) and of its USB488 subclass 1.0: the 12-byte headers of bulk transfers both ways, the
// class requests and their answers, GET_CAPABILITIES, and the packets of the Interrupt-IN endpoint. Numbers are little
// endian. No I/O, no state; client and device share it. What a faulty byte means is told in words that name the byte.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace eyelevel::transport::usbtmc {

// --- bulk transfers (USBTMC 3.2, 3.3; USB488 3.2) ---

inline constexpr std::size_t header_bytes = 12;

enum class MsgId : std::uint8_t {  // USBTMC Table 2, USB488 Table 1
  dev_dep_msg_out = 1,
  request_dev_dep_msg_in = 2,  // and, from the device, DEV_DEP_MSG_IN
  vendor_specific_out = 126,
  request_vendor_specific_in = 127,
  trigger = 128,
};

inline constexpr std::uint8_t eom_bit = 0x01;        // bmTransferAttributes: the message ends with this transfer
inline constexpr std::uint8_t term_char_bit = 0x02;  // asked: end at TermChar; answered: ended so

// As it stands in the bytes; nothing is checked.
struct BulkHeader {
  std::uint8_t msg_id = 0;
  std::uint8_t tag = 0;
  std::uint8_t tag_inverse = 0;
  std::uint8_t reserved = 0;
  std::uint32_t transfer_size = 0;
  std::uint8_t attributes = 0;
  std::uint8_t term_char = 0;
};

// bTag: 1 to 255, never the one before (USBTMC Table 1).
constexpr std::uint8_t next_tag(std::uint8_t tag) { return tag == 255 ? 1 : static_cast<std::uint8_t>(tag + 1); }
// bTag of READ_STATUS_BYTE: 2 to 127 (USB488 Table 11).
constexpr std::uint8_t next_status_tag(std::uint8_t tag) {
  return tag < 2 || tag >= 127 ? 2 : static_cast<std::uint8_t>(tag + 1);
}
// Alignment bytes behind the data of a Bulk-OUT transfer (USBTMC 3.2): to a multiple of four.
constexpr std::size_t padding_after(std::size_t transfer_bytes) { return (4 - transfer_bytes % 4) % 4; }

// One whole DEV_DEP_MSG_OUT transfer: header, data, the `more` byte if there is one, padding. The data with it must be
// 1 to 2^32 - 1 bytes.
void append_message_out(std::string& out, std::uint8_t tag, std::string_view data, bool end_of_message,
                        std::optional<char> more = std::nullopt);
// REQUEST_DEV_DEP_MSG_IN for at most so many data bytes, without TermChar.
void append_request_in(std::string& out, std::uint8_t tag, std::uint32_t most_bytes);
void append_trigger(std::string& out, std::uint8_t tag);
// DEV_DEP_MSG_IN, header only: the data follows it in the same transfer.
void append_message_in_header(std::string& out, std::uint8_t tag, std::uint32_t transfer_size, std::uint8_t attributes);

// Empty when there are fewer than twelve bytes.
std::optional<BulkHeader> read_header(std::string_view bytes);

// What a device refuses by halting Bulk-OUT (USBTMC Table 7), as a sentence; empty when the transfer is good.
// `transfer` is the whole of it, with padding.
std::string fault_of_out_transfer(std::string_view transfer);

struct Asked {
  std::uint8_t tag = 0;
  std::uint32_t most_bytes = 0;
};
enum class InFault { none, msg_id, tag, tag_inverse, transfer_size };
struct InCheck {
  InFault fault = InFault::none;  // the first one
  std::string text;
};
// Whether the header answers what was asked (USBTMC 3.3).
InCheck check_in_header(const BulkHeader& header, const Asked& asked);

// --- class requests (USBTMC Table 15, USB488 Table 9): all device to host, the first answered byte is the status ---

enum class Request : std::uint8_t {
  initiate_abort_bulk_out = 1,
  check_abort_bulk_out_status = 2,
  initiate_abort_bulk_in = 3,
  check_abort_bulk_in_status = 4,
  initiate_clear = 5,
  check_clear_status = 6,
  get_capabilities = 7,
  indicator_pulse = 64,
  read_status_byte = 128,
  ren_control = 160,
  go_to_local = 161,
  local_lockout = 162,
};
std::string_view name_of(Request request);  // as the standard writes it

enum class Status : std::uint8_t {
  success = 0x01,
  pending = 0x02,
  interrupt_in_busy = 0x20,
  failed = 0x80,
  transfer_not_in_progress = 0x81,
  split_not_in_progress = 0x82,
  split_in_progress = 0x83,
};
std::string name_of(Status status);  // any byte: "STATUS_FAILED", "status 0x17"

struct Setup {
  std::uint8_t request_type = 0;
  std::uint8_t request = 0;
  std::uint16_t value = 0;
  std::uint16_t index = 0;
  std::uint16_t length = 0;
  bool operator==(const Setup&) const = default;
};
// `to` is the endpoint address for requests 1 to 4, else the interface number.
Setup setup_of(Request request, std::uint16_t value, std::uint16_t to);
// The request that a device sees; empty when it is none of ours or its bmRequestType is wrong.
std::optional<Request> request_of(const Setup& setup);

// Answers of all requests but GET_CAPABILITIES. A field that the request does not have, or that did not come, is 0.
struct Answer {
  Status status = Status::failed;
  std::uint8_t tag = 0;          // requests 1, 3, READ_STATUS_BYTE
  bool fifo_not_empty = false;   // CHECK_ABORT_BULK_IN_STATUS, CHECK_CLEAR_STATUS
  std::uint32_t bytes = 0;       // CHECK_ABORT_x: NBYTES_RXD or NBYTES_TXD
  std::uint8_t status_byte = 0;  // READ_STATUS_BYTE
  bool complete = true;          // all bytes came that the standard wants
  bool operator==(const Answer&) const = default;
};
std::string answer_bytes(Request request, const Answer& answer);
// Empty when there is not even a status.
std::optional<Answer> read_answer(Request request, std::string_view bytes);

// GET_CAPABILITIES (USBTMC Table 37, USB488 Table 8).
struct Capabilities {
  std::uint16_t bcd_usbtmc = 0;
  std::uint16_t bcd_usb488 = 0;
  bool listen_only = false;
  bool talk_only = false;
  bool indicator_pulse = false;
  bool term_char = false;
  bool trigger = false;       // accepts TRIGGER
  bool remote_local = false;  // accepts REN_CONTROL, GO_TO_LOCAL, LOCAL_LOCKOUT
  bool is_488_2 = false;      // a 488.2 USB488 interface
  bool dt1 = false;           // device trigger
  bool rl1 = false;           // remote and local
  bool sr1 = false;           // service requests
  bool understands_scpi = false;
  bool operator==(const Capabilities&) const = default;
};
inline constexpr std::size_t capabilities_bytes = 24;
std::string capabilities_answer(const Capabilities& capabilities);
// Fewer bytes are taken as if the rest were 0 (met in the field); empty without a successful status.
std::optional<Capabilities> read_capabilities(std::string_view bytes);

// --- Interrupt-IN (USBTMC 3.4, USB488 3.4) ---

struct InterruptPacket {
  enum class Kind { service_request, status_answer, other };
  Kind kind = Kind::other;
  std::uint8_t tag = 0;  // of a status answer
  std::uint8_t status_byte = 0;
  bool operator==(const InterruptPacket&) const = default;
};
// Any bytes; a service request without its status byte is one all the same.
InterruptPacket read_interrupt(std::string_view bytes);
std::string service_request_packet(std::uint8_t status_byte);
std::string status_answer_packet(std::uint8_t tag, std::uint8_t status_byte);

}  // namespace eyelevel::transport::usbtmc
