// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/usbtmc/codec.hpp"

#include <fmt/format.h>

namespace eyelevel::transport::usbtmc {
namespace {

std::uint8_t byte_at(std::string_view bytes, std::size_t at) {
  return at < bytes.size() ? static_cast<std::uint8_t>(bytes[at]) : std::uint8_t{0};
}

std::uint32_t u32_at(std::string_view bytes, std::size_t at) {
  std::uint32_t value = 0;
  for (std::size_t i = 0; i < 4; ++i) value |= std::uint32_t{byte_at(bytes, at + i)} << (8 * i);
  return value;
}

std::uint16_t u16_at(std::string_view bytes, std::size_t at) {
  return static_cast<std::uint16_t>(byte_at(bytes, at) | byte_at(bytes, at + 1) << 8);
}

void put_u32(std::string& out, std::uint32_t value) {
  for (int shift = 0; shift < 32; shift += 8) out += static_cast<char>(value >> shift & 0xFFU);
}

void put_header(std::string& out, MsgId id, std::uint8_t tag, std::uint32_t transfer_size, std::uint8_t attributes) {
  out += static_cast<char>(id);
  out += static_cast<char>(tag);
  out += static_cast<char>(~tag);
  out += '\0';
  put_u32(out, transfer_size);
  out += static_cast<char>(attributes);
  out.append(3, '\0');
}

constexpr std::uint8_t to_endpoint = 0xA2;
constexpr std::uint8_t to_interface = 0xA1;

struct Row {
  Request request;
  std::string_view name;
  std::uint8_t request_type;
  std::uint16_t length;
};
constexpr Row rows[] = {
    {Request::initiate_abort_bulk_out, "INITIATE_ABORT_BULK_OUT", to_endpoint, 2},
    {Request::check_abort_bulk_out_status, "CHECK_ABORT_BULK_OUT_STATUS", to_endpoint, 8},
    {Request::initiate_abort_bulk_in, "INITIATE_ABORT_BULK_IN", to_endpoint, 2},
    {Request::check_abort_bulk_in_status, "CHECK_ABORT_BULK_IN_STATUS", to_endpoint, 8},
    {Request::initiate_clear, "INITIATE_CLEAR", to_interface, 1},
    {Request::check_clear_status, "CHECK_CLEAR_STATUS", to_interface, 2},
    {Request::get_capabilities, "GET_CAPABILITIES", to_interface, capabilities_bytes},
    {Request::indicator_pulse, "INDICATOR_PULSE", to_interface, 1},
    {Request::read_status_byte, "READ_STATUS_BYTE", to_interface, 3},
    {Request::ren_control, "REN_CONTROL", to_interface, 1},
    {Request::go_to_local, "GO_TO_LOCAL", to_interface, 1},
    {Request::local_lockout, "LOCAL_LOCKOUT", to_interface, 1},
};

const Row& row_of(Request request) {
  for (const Row& row : rows)
    if (row.request == request) return row;
  return rows[0];  // every enumerator is in the table
}

bool is_set(std::uint8_t flags, unsigned bit) { return (flags >> bit & 1U) != 0; }
std::uint8_t flag(bool set, unsigned bit) { return static_cast<std::uint8_t>(set ? 1U << bit : 0U); }

}  // namespace

void append_message_out(std::string& out, std::uint8_t tag, std::string_view data, bool end_of_message,
                        std::optional<char> more) {
  const std::size_t size = data.size() + (more ? 1 : 0);
  const std::size_t transfer_bytes = header_bytes + size;
  out.reserve(out.size() + transfer_bytes + padding_after(transfer_bytes));
  put_header(out, MsgId::dev_dep_msg_out, tag, static_cast<std::uint32_t>(size), end_of_message ? eom_bit : 0);
  out += data;
  if (more) out += *more;
  out.append(padding_after(transfer_bytes), '\0');
}

void append_request_in(std::string& out, std::uint8_t tag, std::uint32_t most_bytes) {
  put_header(out, MsgId::request_dev_dep_msg_in, tag, most_bytes, 0);
}

void append_trigger(std::string& out, std::uint8_t tag) { put_header(out, MsgId::trigger, tag, 0, 0); }

void append_message_in_header(std::string& out, std::uint8_t tag, std::uint32_t transfer_size,
                              std::uint8_t attributes) {
  put_header(out, MsgId::request_dev_dep_msg_in, tag, transfer_size, attributes);
}

std::optional<BulkHeader> read_header(std::string_view bytes) {
  if (bytes.size() < header_bytes) return std::nullopt;
  return BulkHeader{.msg_id = byte_at(bytes, 0),
                    .tag = byte_at(bytes, 1),
                    .tag_inverse = byte_at(bytes, 2),
                    .reserved = byte_at(bytes, 3),
                    .transfer_size = u32_at(bytes, 4),
                    .attributes = byte_at(bytes, 8),
                    .term_char = byte_at(bytes, 9)};
}

std::string fault_of_out_transfer(std::string_view transfer) {
  const auto header = read_header(transfer);
  if (!header) return fmt::format("a transfer of {} bytes cannot hold the header of 12", transfer.size());
  if (header->tag == 0) return "byte 1, bTag, is 0";
  if ((header->tag ^ header->tag_inverse) != 0xFF)
    return fmt::format("byte 2 is 0x{:02X}; the inverse of bTag is 0x{:02X}", header->tag_inverse, header->tag ^ 0xFF);
  const std::size_t data = transfer.size() - header_bytes;
  switch (static_cast<MsgId>(header->msg_id)) {
    case MsgId::trigger: return data == 0 ? "" : fmt::format("{} bytes behind the header of TRIGGER", data);
    case MsgId::request_dev_dep_msg_in:
      if (header->transfer_size == 0) return "bytes 4 to 7, TransferSize, are 0";
      return data == 0 ? "" : fmt::format("{} bytes behind the header of a request", data);
    case MsgId::dev_dep_msg_out: {
      if (header->transfer_size == 0) return "bytes 4 to 7, TransferSize, are 0";
      const std::size_t size = header->transfer_size;
      const std::size_t padded = size + padding_after(header_bytes + size);
      // Whether the alignment bytes are there is not the device's concern (they are "not part of the message").
      if (data < size) return fmt::format("TransferSize is {}, but {} bytes came", size, data);
      if (data > padded) return fmt::format("TransferSize is {}, but {} bytes came", size, data);
      return "";
    }
    case MsgId::vendor_specific_out:
    case MsgId::request_vendor_specific_in: return "vendor-specific messages are not known here";
  }
  return fmt::format("byte 0, MsgID {}, is not known", header->msg_id);
}

InCheck check_in_header(const BulkHeader& header, const Asked& asked) {
  if (header.msg_id != static_cast<std::uint8_t>(MsgId::request_dev_dep_msg_in))
    return {InFault::msg_id, fmt::format("byte 0, MsgID, is {} instead of 2", header.msg_id)};
  if (header.tag != asked.tag)
    return {InFault::tag, fmt::format("byte 1, bTag, is {} instead of {}", header.tag, asked.tag)};
  if ((header.tag ^ header.tag_inverse) != 0xFF)
    return {InFault::tag_inverse,
            fmt::format("byte 2 is 0x{:02X}; the inverse of bTag is 0x{:02X}", header.tag_inverse, header.tag ^ 0xFF)};
  if (header.transfer_size > asked.most_bytes)
    return {InFault::transfer_size, fmt::format("bytes 4 to 7, TransferSize, are {}; at most {} bytes were asked for",
                                                header.transfer_size, asked.most_bytes)};
  return {};
}

std::string_view name_of(Request request) { return row_of(request).name; }

std::string name_of(Status status) {
  switch (status) {
    case Status::success: return "STATUS_SUCCESS";
    case Status::pending: return "STATUS_PENDING";
    case Status::interrupt_in_busy: return "STATUS_INTERRUPT_IN_BUSY";
    case Status::failed: return "STATUS_FAILED";
    case Status::transfer_not_in_progress: return "STATUS_TRANSFER_NOT_IN_PROGRESS";
    case Status::split_not_in_progress: return "STATUS_SPLIT_NOT_IN_PROGRESS";
    case Status::split_in_progress: return "STATUS_SPLIT_IN_PROGRESS";
  }
  return fmt::format("status 0x{:02X}", static_cast<unsigned>(status));
}

Setup setup_of(Request request, std::uint16_t value, std::uint16_t to) {
  const Row& row = row_of(request);
  return {row.request_type, static_cast<std::uint8_t>(request), value, to, row.length};
}

std::optional<Request> request_of(const Setup& setup) {
  for (const Row& row : rows)
    if (static_cast<std::uint8_t>(row.request) == setup.request && row.request_type == setup.request_type)
      return row.request;
  return std::nullopt;
}

std::string answer_bytes(Request request, const Answer& answer) {
  std::string out(1, static_cast<char>(answer.status));
  switch (request) {
    case Request::initiate_abort_bulk_out:
    case Request::initiate_abort_bulk_in: out += static_cast<char>(answer.tag); break;
    case Request::check_abort_bulk_out_status:
    case Request::check_abort_bulk_in_status:
      out += answer.fifo_not_empty && request == Request::check_abort_bulk_in_status ? '\1' : '\0';
      out.append(2, '\0');
      put_u32(out, answer.bytes);
      break;
    case Request::check_clear_status: out += answer.fifo_not_empty ? '\1' : '\0'; break;
    case Request::read_status_byte:
      out += static_cast<char>(answer.tag);
      out += static_cast<char>(answer.status_byte);
      break;
    case Request::initiate_clear:
    case Request::get_capabilities:
    case Request::indicator_pulse:
    case Request::ren_control:
    case Request::go_to_local:
    case Request::local_lockout: break;
  }
  return out;
}

std::optional<Answer> read_answer(Request request, std::string_view bytes) {
  if (bytes.empty()) return std::nullopt;
  Answer answer;
  answer.status = static_cast<Status>(byte_at(bytes, 0));
  answer.complete = bytes.size() >= row_of(request).length;
  switch (request) {
    case Request::initiate_abort_bulk_out:
    case Request::initiate_abort_bulk_in: answer.tag = byte_at(bytes, 1); break;
    case Request::check_abort_bulk_out_status: answer.bytes = u32_at(bytes, 4); break;
    case Request::check_abort_bulk_in_status:
      answer.fifo_not_empty = is_set(byte_at(bytes, 1), 0);
      answer.bytes = u32_at(bytes, 4);
      break;
    case Request::check_clear_status: answer.fifo_not_empty = is_set(byte_at(bytes, 1), 0); break;
    case Request::read_status_byte:
      answer.tag = byte_at(bytes, 1);
      answer.status_byte = byte_at(bytes, 2);
      break;
    case Request::initiate_clear:
    case Request::get_capabilities:
    case Request::indicator_pulse:
    case Request::ren_control:
    case Request::go_to_local:
    case Request::local_lockout: break;
  }
  return answer;
}

std::string capabilities_answer(const Capabilities& c) {
  std::string out(capabilities_bytes, '\0');
  const auto put = [&out](std::size_t at, unsigned value) { out[at] = static_cast<char>(value); };
  put(0, static_cast<unsigned>(Status::success));
  put(2, c.bcd_usbtmc & 0xFFU);
  put(3, c.bcd_usbtmc >> 8U);
  put(4, flag(c.listen_only, 0) | flag(c.talk_only, 1) | flag(c.indicator_pulse, 2));
  put(5, flag(c.term_char, 0));
  put(12, c.bcd_usb488 & 0xFFU);
  put(13, c.bcd_usb488 >> 8U);
  put(14, flag(c.trigger, 0) | flag(c.remote_local, 1) | flag(c.is_488_2, 2));
  put(15, flag(c.dt1, 0) | flag(c.rl1, 1) | flag(c.sr1, 2) | flag(c.understands_scpi, 3));
  return out;
}

std::optional<Capabilities> read_capabilities(std::string_view bytes) {
  if (bytes.empty() || static_cast<Status>(byte_at(bytes, 0)) != Status::success) return std::nullopt;
  const std::uint8_t interface = byte_at(bytes, 4);
  const std::uint8_t interface_488 = byte_at(bytes, 14);
  const std::uint8_t device_488 = byte_at(bytes, 15);
  return Capabilities{.bcd_usbtmc = u16_at(bytes, 2),
                      .bcd_usb488 = u16_at(bytes, 12),
                      .listen_only = is_set(interface, 0),
                      .talk_only = is_set(interface, 1),
                      .indicator_pulse = is_set(interface, 2),
                      .term_char = is_set(byte_at(bytes, 5), 0),
                      .trigger = is_set(interface_488, 0),
                      .remote_local = is_set(interface_488, 1),
                      .is_488_2 = is_set(interface_488, 2),
                      .dt1 = is_set(device_488, 0),
                      .rl1 = is_set(device_488, 1),
                      .sr1 = is_set(device_488, 2),
                      .understands_scpi = is_set(device_488, 3)};
}

InterruptPacket read_interrupt(std::string_view bytes) {
  const std::uint8_t notify = byte_at(bytes, 0);
  // Bit 7 marks the subclass's own packets: tag 1 is a service request, 2 to 127 answer READ_STATUS_BYTE.
  const auto tag = static_cast<std::uint8_t>(notify & 0x7FU);
  if ((notify & 0x80U) == 0 || tag == 0) return {};
  if (tag == 1) return {InterruptPacket::Kind::service_request, 0, byte_at(bytes, 1)};
  if (bytes.size() < 2) return {};
  return {InterruptPacket::Kind::status_answer, tag, byte_at(bytes, 1)};
}

std::string service_request_packet(std::uint8_t status_byte) {
  return {static_cast<char>(0x81), static_cast<char>(status_byte)};
}

std::string status_answer_packet(std::uint8_t tag, std::uint8_t status_byte) {
  return {static_cast<char>(0x80U | tag), static_cast<char>(status_byte)};
}

}  // namespace eyelevel::transport::usbtmc
