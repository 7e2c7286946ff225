// SPDX-License-Identifier: Apache-2.0
// ONC remote procedure calls as VXI-11 uses them: record marking on TCP (RFC 5531, 11), call and reply heads (RFC 5531,
// 9), and the portmapper (RFC 1833, 3). Bytes in, structures out; nothing is stored but a few counts. No I/O here.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

namespace eyelevel::transport::vxi11 {

inline constexpr std::size_t most_fragment_bytes = 0x7FFFFFFF;
inline constexpr std::size_t most_auth_bytes = 400;  // RFC 5531, 8.2

// The four bytes that lead a record of one fragment. `out` begins with them (left free by begin_record) and holds
// already what is sent from it; `more` bytes follow from elsewhere.
void begin_record(std::string& out);
void end_record(std::string& out, std::size_t more = 0);

// Follows one stream of records through its fragments. Whoever has bytes asks which they are: while needs_mark(), up to
// four bytes of a fragment's mark go to mark(); else up to fragment_left() bytes of the record are its payload, of
// which took() is told; at record_ended() begin() starts the next. A record larger than `most`, or one that consists of
// empty fragments without end, is a fault.
class RecordMarks {
 public:
  explicit RecordMarks(std::size_t most_record_bytes) : most_(most_record_bytes) {}

  void begin();
  bool needs_mark() const { return !ended_ && left_ == 0; }
  std::size_t mark(std::string_view bytes);  // how many of them it took
  std::size_t fragment_left() const { return left_; }
  void took(std::size_t payload_bytes);
  bool record_ended() const { return ended_; }
  // Nothing of the record has come yet.
  bool untouched() const { return marks_ == 0 && mark_bytes_ == 0 && !ended_; }
  const std::string& fault() const { return fault_; }

 private:
  std::size_t most_;
  std::uint32_t mark_ = 0;
  std::size_t mark_bytes_ = 0;
  std::size_t marks_ = 0;
  std::size_t empty_ = 0;  // fragments without a byte, in a row
  std::size_t left_ = 0;
  std::size_t total_ = 0;
  bool last_ = false;
  bool ended_ = false;
  std::string fault_;
};

struct Call {
  std::uint32_t xid = 0;
  std::uint32_t program = 0;
  std::uint32_t version = 0;
  std::uint32_t procedure = 0;
};

void append_call(std::string& out, const Call& call);  // credential and verifier: none

// What was found at the beginning of a record that should be a call.
struct FoundCall {
  Call call;
  std::string_view arguments;
  bool is_call = false;   // false: a reply or nonsense, see fault
  bool right_rpc = true;  // RPC version 2; else append_denied
  std::string fault;      // not empty: no call that could be answered
};
FoundCall read_call(std::string_view record);

enum class AcceptState : std::uint32_t {
  success = 0,
  program_unavailable = 1,
  version_mismatch = 2,  // two words follow: lowest and highest version
  procedure_unavailable = 3,
  garbage_arguments = 4,
  system_error = 5,
};

// The head of an accepted reply; results follow.
void append_reply(std::string& out, std::uint32_t xid, AcceptState state = AcceptState::success);
void append_version_mismatch(std::string& out, std::uint32_t xid, std::uint32_t lowest, std::uint32_t highest);
void append_denied(std::string& out, std::uint32_t xid);  // for an RPC version other than 2

// A reply's head, read from as many bytes as have come: asks for more until it is complete.
struct FoundReply {
  std::size_t need = 0;  // at least so many more bytes; 0: complete or fault
  std::size_t head_bytes = 0;
  std::uint32_t xid = 0;
  std::string fault;    // the bytes are no reply
  std::string refused;  // a reply, but the call was not carried out: says why
};
FoundReply read_reply_head(std::string_view bytes);

// Portmapper, version 2 (RFC 1833, 3).
inline constexpr std::uint32_t portmapper_program = 100000;
inline constexpr std::uint32_t portmapper_version = 2;
inline constexpr std::uint16_t portmapper_port = 111;
enum class PortmapperProcedure : std::uint32_t { null = 0, set = 1, unset = 2, get_port = 3, dump = 4, call_it = 5 };
enum class Protocol : std::uint32_t { tcp = 6, udp = 17 };

struct Mapping {
  std::uint32_t program = 0;
  std::uint32_t version = 0;
  std::uint32_t protocol = static_cast<std::uint32_t>(Protocol::tcp);
  std::uint32_t port = 0;
};
void append_mapping(std::string& out, const Mapping& mapping);
// False when the bytes are too few.
bool read_mapping(std::string_view arguments, Mapping& mapping);

// A whole GETPORT call for TCP (program, version), without record mark: the same bytes go by UDP.
std::string get_port_call(std::uint32_t xid, std::uint32_t program, std::uint32_t version);

}  // namespace eyelevel::transport::vxi11
