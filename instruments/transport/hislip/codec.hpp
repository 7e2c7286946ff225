// SPDX-License-Identifier: Apache-2.0
// The messages of HiSLIP (IVI-6.1, revisions 1.1 and 2.0) as bytes: the header of 2.3, the message types of Table 3 and
// 4, who may send which on which of the two connections, how long a payload may be, the error codes of 6.2 and 6.3, and
// where a response that has a declared end contradicts its own blocks. No I/O; lengths from outside are never believed.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

namespace eyelevel::transport::hislip {

inline constexpr std::size_t header_bytes = 16;
inline constexpr std::size_t most_async_bytes = 256;                      // 2.7; of every payload that is not data
inline constexpr std::size_t most_payload_bytes = std::size_t{4} << 20U;  // of one of our Data messages, both ways
inline constexpr std::uint16_t version_1_0 = 0x0100;
inline constexpr std::uint16_t version_2_0 = 0x0200;
inline constexpr std::string_view vendor_id = "ZZ";  // two letters (VPP-9); nobody's

enum class MessageType : std::uint8_t {
  initialize = 0,
  initialize_response = 1,
  fatal_error = 2,
  error = 3,
  async_lock = 4,
  async_lock_response = 5,
  data = 6,
  data_end = 7,
  device_clear_complete = 8,
  device_clear_acknowledge = 9,
  async_remote_local_control = 10,
  async_remote_local_response = 11,
  trigger = 12,
  interrupted = 13,
  async_interrupted = 14,
  async_maximum_message_size = 15,
  async_maximum_message_size_response = 16,
  async_initialize = 17,
  async_initialize_response = 18,
  async_device_clear = 19,
  async_service_request = 20,
  async_status_query = 21,
  async_status_response = 22,
  async_device_clear_acknowledge = 23,
  async_lock_info = 24,
  async_lock_info_response = 25,
  get_descriptors = 26,  // from here on revision 2.0
  get_descriptors_response = 27,
  start_tls = 28,
  async_start_tls = 29,
  async_start_tls_response = 30,
  end_tls = 31,
  async_end_tls = 32,
  async_end_tls_response = 33,
  get_sasl_mechanism_list = 34,
  get_sasl_mechanism_list_response = 35,
  authentication_start = 36,
  authentication_exchange = 37,
  authentication_result = 38,
};

enum class Connection { synchronous, asynchronous };
enum class Sender { client, server };

std::string_view name_of(Connection connection);
// The name as the standard writes it; "message type 77" for those that it does not define.
std::string name_of(MessageType type);

struct Header {
  MessageType type = MessageType::initialize;
  std::uint8_t control = 0;
  std::uint32_t parameter = 0;
  std::uint64_t payload_bytes = 0;
  bool operator==(const Header&) const = default;
};

using HeaderBytes = std::array<char, header_bytes>;
HeaderBytes encode(const Header& header);

struct FoundHeader {
  bool complete = false;
  Header header;
  std::string fault;  // not empty: these bytes begin no message; says why
};
// `bytes` begins with the first byte of a message; a wrong beginning is told from the first byte on.
FoundHeader read_header(std::string_view bytes);

// Empty, or why this message cannot be taken from this sender on this connection: fatal error 1 for a server. Types
// that the standard does not define pass: they are answered by an error and skipped (6.3).
std::string fault_of(const Header& header, Connection connection, Sender sender);
bool is_defined(MessageType type);
bool is_vendor_specific(MessageType type);

enum class FatalError : std::uint8_t {  // 6.2
  unidentified = 0,
  bad_header = 1,
  not_both_channels = 2,
  invalid_initialisation = 3,
  too_many_clients = 4,
  no_secure_connection = 5,
};
enum class NonFatalError : std::uint8_t {  // 6.3
  unidentified = 0,
  unknown_type = 1,
  unknown_control = 2,
  unknown_vendor_message = 3,
  message_too_large = 4,
  authentication_failed = 5,
};
std::string fatal_error_text(std::uint8_t code);
std::string error_text(std::uint8_t code);

// Initialize (6.1): version and vendor in the parameter, the sub-address in the payload.
std::uint32_t initialize_parameter(std::uint16_t version, std::string_view vendor);
std::uint16_t version_in(std::uint32_t parameter);
// InitializeResponse: version above, session below.
std::uint32_t initialize_response_parameter(std::uint16_t version, std::uint16_t session);
std::uint16_t session_in(std::uint32_t parameter);
std::string version_text(std::uint16_t version);

namespace initialize_flags {
inline constexpr std::uint8_t prefer_overlapped = 1;
inline constexpr std::uint8_t encryption_mandatory = 2;
inline constexpr std::uint8_t initial_encryption = 4;
}  // namespace initialize_flags

inline constexpr std::uint8_t rmt_delivered = 1;       // control of Data, DataEND, Trigger, AsyncStatusQuery
inline constexpr std::uint8_t feature_overlapped = 1;  // control of the messages of device clear

enum class LockAnswer : std::uint8_t { failed = 0, exclusive = 1, shared_released = 2, error = 3 };

enum class TlsAnswer : std::uint8_t { busy = 0, success = 1, error = 3 };  // AsyncStartTLSResponse, AsyncEndTLSResponse
inline constexpr std::uint8_t secure_capable = 1;                          // control of AsyncInitializeResponse
inline constexpr std::uint8_t authentication_success = 1;                  // of AuthenticationResult; from memory

// The eight bytes of AsyncMaximumMessageSize and its response (6.10).
std::array<char, 8> encode_size(std::uint64_t bytes);
std::uint64_t read_size(std::string_view eight_bytes);
// How much payload fits into a message of the announced size, and into `most`. Whether the header counts is left open
// by the standard: it is counted where there is room for it. 0: nothing can be sent.
std::size_t usable_payload(std::uint64_t announced_bytes, std::size_t most);

// A whole response, whose end the carrier has told. Its terminating NL or CR NL is optional (IEEE 488.2, 8.5); blocks
// are taken by their length, #0 goes to the end.
struct EndedResponse {
  std::size_t message_bytes = 0;  // without the terminator
  std::string fault;              // not empty: the end contradicts the header of a block
};
EndedResponse read_ended_response(std::string_view bytes, std::size_t most);

}  // namespace eyelevel::transport::hislip
