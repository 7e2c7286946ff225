// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/hislip/codec.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "core/base/error.hpp"
#include "instruments/scpi/block.hpp"

namespace eyelevel::transport::hislip {
namespace {

enum class On { synchronous, asynchronous, both };
enum class From { client, server, both };
enum class Payload { none, text, size, data };

struct Row {
  std::string_view name;
  On on;
  From from;
  Payload payload;
};

// IVI-6.1, Tables 3 and 4, in the order of the numbers. DeviceClearAcknowledge goes on the synchronous connection
// (Table 3); Table 4 of revision 1.1 has it otherwise. Texts of errors may be long, for nobody needs to keep them; a
// service request with a payload is malformed, but no reason to lose it.
constexpr std::array rows{
    Row{"Initialize", On::synchronous, From::client, Payload::text},
    Row{"InitializeResponse", On::synchronous, From::server, Payload::none},
    Row{"FatalError", On::both, From::both, Payload::data},
    Row{"Error", On::both, From::both, Payload::data},
    Row{"AsyncLock", On::asynchronous, From::client, Payload::text},
    Row{"AsyncLockResponse", On::asynchronous, From::server, Payload::none},
    Row{"Data", On::synchronous, From::both, Payload::data},
    Row{"DataEND", On::synchronous, From::both, Payload::data},
    Row{"DeviceClearComplete", On::synchronous, From::client, Payload::none},
    Row{"DeviceClearAcknowledge", On::synchronous, From::server, Payload::none},
    Row{"AsyncRemoteLocalControl", On::asynchronous, From::client, Payload::none},
    Row{"AsyncRemoteLocalResponse", On::asynchronous, From::server, Payload::none},
    Row{"Trigger", On::synchronous, From::client, Payload::none},
    Row{"Interrupted", On::synchronous, From::server, Payload::none},
    Row{"AsyncInterrupted", On::asynchronous, From::server, Payload::none},
    Row{"AsyncMaximumMessageSize", On::asynchronous, From::client, Payload::size},
    Row{"AsyncMaximumMessageSizeResponse", On::asynchronous, From::server, Payload::size},
    Row{"AsyncInitialize", On::asynchronous, From::client, Payload::none},
    Row{"AsyncInitializeResponse", On::asynchronous, From::server, Payload::none},
    Row{"AsyncDeviceClear", On::asynchronous, From::client, Payload::none},
    Row{"AsyncServiceRequest", On::asynchronous, From::server, Payload::text},
    Row{"AsyncStatusQuery", On::asynchronous, From::client, Payload::none},
    Row{"AsyncStatusResponse", On::asynchronous, From::server, Payload::none},
    Row{"AsyncDeviceClearAcknowledge", On::asynchronous, From::server, Payload::none},
    Row{"AsyncLockInfo", On::asynchronous, From::client, Payload::none},
    Row{"AsyncLockInfoResponse", On::asynchronous, From::server, Payload::none},
    Row{"GetDescriptors", On::both, From::client, Payload::text},
    Row{"GetDescriptorsResponse", On::both, From::server, Payload::text},
    Row{"StartTLS", On::synchronous, From::client, Payload::text},
    Row{"AsyncStartTLS", On::asynchronous, From::client, Payload::text},
    Row{"AsyncStartTLSResponse", On::asynchronous, From::server, Payload::text},
    Row{"EndTLS", On::synchronous, From::client, Payload::text},
    Row{"AsyncEndTLS", On::asynchronous, From::client, Payload::text},
    Row{"AsyncEndTLSResponse", On::asynchronous, From::server, Payload::text},
    Row{"GetSaslMechanismList", On::synchronous, From::client, Payload::text},
    Row{"GetSaslMechanismListResponse", On::synchronous, From::server, Payload::text},
    Row{"AuthenticationStart", On::synchronous, From::client, Payload::text},
    Row{"AuthenticationExchange", On::synchronous, From::both, Payload::text},
    Row{"AuthenticationResult", On::synchronous, From::server, Payload::text},
};

const Row* row_of(MessageType type) {
  const auto at = static_cast<std::size_t>(type);
  return at < rows.size() ? &rows[at] : nullptr;
}

template <class Number>
void put(char* at, Number number) {
  for (std::size_t i = sizeof number; i-- > 0;) {
    at[i] = static_cast<char>(number & 0xFFU);
    number = static_cast<Number>(number >> 8U);
  }
}

std::uint64_t number_at(std::string_view bytes, std::size_t at, std::size_t count) {
  std::uint64_t number = 0;
  for (const char c : bytes.substr(at, count)) number = number << 8U | static_cast<unsigned char>(c);
  return number;
}

// What a block that begins at `at` says about the rest; `at` goes behind it, and `end` with it if it was a block.
std::string step_over_block(std::string_view bytes, std::size_t& at, std::size_t most, std::size_t& end) {
  const auto block = scpi::read_block_header(bytes.substr(at), most);
  switch (block.state) {
    case scpi::BlockHeaderState::complete: {
      const std::size_t there = bytes.size() - at - block.header_bytes;
      if (block.data_bytes > there)
        return fmt::format("the block at byte {} announces {} bytes, but the answer ends {} bytes too early", at + 1,
                           block.data_bytes, block.data_bytes - there);
      end = at += block.header_bytes + block.data_bytes;
      return {};
    }
    case scpi::BlockHeaderState::need_more:
      return fmt::format("the answer ends inside the header of the block at byte {}", at + 1);
    case scpi::BlockHeaderState::too_large:
      return fmt::format("the block at byte {} announces {} bytes, more than the limit of {}", at + 1, block.data_bytes,
                         most);
    case scpi::BlockHeaderState::indefinite:
      // It ends with the NL that carries END (IEEE 488.2, 8.7.10); that NL is no data.
      at = bytes.size();
      end = bytes.ends_with('\n') ? at - 1 : at;
      return {};
    case scpi::BlockHeaderState::bad: ++at; return {};  // #H, #Q, #B or nonsense: text
  }
  return {};
}

bool is_space(char c) { return static_cast<unsigned char>(c) <= 0x20; }

}  // namespace

std::string_view name_of(Connection connection) {
  return connection == Connection::synchronous ? "synchronous" : "asynchronous";
}

std::string name_of(MessageType type) {
  if (const Row* row = row_of(type)) return std::string(row->name);
  return fmt::format("message type {}", static_cast<int>(type));
}

bool is_defined(MessageType type) { return row_of(type) != nullptr; }
bool is_vendor_specific(MessageType type) { return static_cast<std::uint8_t>(type) >= 128; }

HeaderBytes encode(const Header& header) {
  HeaderBytes bytes{'H', 'S', static_cast<char>(header.type), static_cast<char>(header.control)};
  put(bytes.data() + 4, header.parameter);
  put(bytes.data() + 8, header.payload_bytes);
  return bytes;
}

FoundHeader read_header(std::string_view bytes) {
  FoundHeader found;
  static constexpr std::string_view prologue = "HS";
  for (std::size_t i = 0; i < std::min(bytes.size(), prologue.size()); ++i)
    if (bytes[i] != prologue[i]) {
      found.fault = fmt::format("byte {} of a message header is \"{}\", expected \"{}\": this is no HiSLIP", i + 1,
                                base::escaped(bytes.substr(i, 1)), prologue[i]);
      return found;
    }
  if (bytes.size() < header_bytes) return found;
  found.complete = true;
  found.header.type = static_cast<MessageType>(bytes[2]);
  found.header.control = static_cast<std::uint8_t>(bytes[3]);
  found.header.parameter = static_cast<std::uint32_t>(number_at(bytes, 4, 4));
  found.header.payload_bytes = number_at(bytes, 8, 8);
  return found;
}

std::string fault_of(const Header& header, Connection connection, Sender sender) {
  const Row* row = row_of(header.type);
  if (row == nullptr) return {};
  if ((row->on == On::synchronous && connection == Connection::asynchronous) ||
      (row->on == On::asynchronous && connection == Connection::synchronous))
    return fmt::format("{} does not belong on the {} connection", row->name, name_of(connection));
  if ((row->from == From::client && sender == Sender::server) ||
      (row->from == From::server && sender == Sender::client))
    return fmt::format("{} is not for the {} to send", row->name, sender == Sender::server ? "server" : "client");
  switch (row->payload) {
    case Payload::none:
      if (header.payload_bytes == 0) return {};
      return fmt::format("{} has a payload of {} bytes (bytes 9 to 16), expected none", row->name,
                         header.payload_bytes);
    case Payload::size:
      if (header.payload_bytes == 8) return {};
      return fmt::format("{} has a payload of {} bytes (bytes 9 to 16), expected 8", row->name, header.payload_bytes);
    case Payload::text:
      if (header.payload_bytes <= most_async_bytes) return {};
      return fmt::format("{} has a payload of {} bytes (bytes 9 to 16), at most {} are allowed", row->name,
                         header.payload_bytes, most_async_bytes);
    case Payload::data: return {};
  }
  return {};
}

std::string fatal_error_text(std::uint8_t code) {
  static constexpr std::array<std::string_view, 6> texts{"unidentified error",
                                                         "badly formed message header",
                                                         "used before both connections were established",
                                                         "invalid initialisation sequence",
                                                         "too many clients",
                                                         "secure connection failed"};
  if (code < texts.size()) return std::string(texts[code]);
  return code < 128 ? "a code that the standard does not define" : "a code of the instrument's own";
}

std::string error_text(std::uint8_t code) {
  static constexpr std::array<std::string_view, 6> texts{"unidentified error",        "unrecognised message type",
                                                         "unrecognised control code", "unrecognised vendor message",
                                                         "message too large",         "authentication failed"};
  if (code < texts.size()) return std::string(texts[code]);
  return code < 128 ? "a code that the standard does not define" : "a code of the instrument's own";
}

std::uint32_t initialize_parameter(std::uint16_t version, std::string_view vendor) {
  std::uint32_t parameter = version;
  for (std::size_t i = 0; i < 2; ++i)
    parameter = parameter << 8U | (i < vendor.size() ? static_cast<unsigned char>(vendor[i]) : 0U);
  return parameter;
}

std::uint16_t version_in(std::uint32_t parameter) { return static_cast<std::uint16_t>(parameter >> 16U); }

std::uint32_t initialize_response_parameter(std::uint16_t version, std::uint16_t session) {
  return static_cast<std::uint32_t>(version) << 16U | session;
}

std::uint16_t session_in(std::uint32_t parameter) { return static_cast<std::uint16_t>(parameter & 0xFFFFU); }

std::string version_text(std::uint16_t version) { return fmt::format("{}.{}", version >> 8U, version & 0xFFU); }

std::array<char, 8> encode_size(std::uint64_t bytes) {
  std::array<char, 8> encoded{};
  put(encoded.data(), bytes);
  return encoded;
}

std::uint64_t read_size(std::string_view eight_bytes) { return number_at(eight_bytes, 0, 8); }

std::size_t usable_payload(std::uint64_t announced_bytes, std::size_t most) {
  const std::uint64_t payload = announced_bytes > header_bytes ? announced_bytes - header_bytes : announced_bytes;
  return static_cast<std::size_t>(std::min<std::uint64_t>(payload, most));
}

EndedResponse read_ended_response(std::string_view bytes, std::size_t most) {
  EndedResponse found;
  bool element_begins = true;
  bool behind_block = false;   // nothing but white space since
  std::size_t blocks_end = 0;  // no terminator lies before this
  bool quoted = false;
  for (std::size_t at = 0; at < bytes.size();) {
    const char c = bytes[at];
    if (c == '#' && element_begins && !quoted) {
      found.fault = step_over_block(bytes, at, most, blocks_end);
      if (!found.fault.empty()) return found;
      element_begins = false;
      behind_block = blocks_end == at;
      continue;
    }
    const bool separator = (c == ',' || c == ';') && !quoted;
    if (behind_block && !separator && !is_space(c)) {
      found.fault = fmt::format("byte {} should end the block that came before it, but is \"{}\"", at + 1,
                                base::escaped(bytes.substr(at, 1)));
      return found;
    }
    if (c == '"') quoted = !quoted;
    if (separator) behind_block = false;
    if (!is_space(c)) element_begins = separator;
    ++at;
  }
  std::size_t end = bytes.size();
  if (end > blocks_end && bytes[end - 1] == '\n') {
    --end;
    if (end > blocks_end && bytes[end - 1] == '\r') --end;
  }
  found.message_bytes = end;
  return found;
}

}  // namespace eyelevel::transport::hislip
