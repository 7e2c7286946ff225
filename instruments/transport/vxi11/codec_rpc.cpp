// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/vxi11/codec_rpc.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "instruments/transport/vxi11/codec_xdr.hpp"

namespace eyelevel::transport::vxi11 {
namespace {

constexpr std::uint32_t last_fragment = 0x80000000;
constexpr std::uint32_t rpc_version = 2;
constexpr std::uint32_t message_call = 0, message_reply = 1;
constexpr std::uint32_t reply_accepted = 0, reply_denied = 1;
constexpr std::uint32_t rejected_version = 0;
constexpr std::size_t most_empty_fragments = 64;

void append_no_auth(XdrWriter& writer) {
  writer.u32(0);
  writer.u32(0);
}

std::string why_refused(std::uint32_t state) {
  switch (static_cast<AcceptState>(state)) {
    case AcceptState::success: return {};
    case AcceptState::program_unavailable: return "the program is not available there";
    case AcceptState::version_mismatch: return "the program is there in another version";
    case AcceptState::procedure_unavailable: return "the procedure is not available there";
    case AcceptState::garbage_arguments: return "the arguments were not understood";
    case AcceptState::system_error: return "the other side had an internal error";
  }
  return fmt::format("the call was answered by the unknown state {}", state);
}

}  // namespace

void begin_record(std::string& out) { out.assign(4, '\0'); }

void end_record(std::string& out, std::size_t more) {
  const auto mark = static_cast<std::uint32_t>(out.size() - 4 + more) | last_fragment;
  for (std::size_t i = 0; i < 4; ++i) out[i] = static_cast<char>((mark >> (24 - 8 * i)) & 0xFFU);
}

void RecordMarks::begin() {
  mark_ = 0;
  mark_bytes_ = marks_ = empty_ = left_ = total_ = 0;
  last_ = ended_ = false;
}

std::size_t RecordMarks::mark(std::string_view bytes) {
  std::size_t taken = 0;
  while (taken < bytes.size() && needs_mark() && fault_.empty()) {
    mark_ = (mark_ << 8U) | static_cast<unsigned char>(bytes[taken++]);
    if (++mark_bytes_ < 4) continue;
    mark_bytes_ = 0;
    ++marks_;
    last_ = (mark_ & last_fragment) != 0;
    left_ = mark_ & ~last_fragment;
    mark_ = 0;
    if (left_ > most_ - total_) {
      fault_ = fmt::format("fragment {} brings the record to {} bytes, more than the limit of {}", marks_,
                           total_ + left_, most_);
      break;
    }
    total_ += left_;
    empty_ = left_ == 0 ? empty_ + 1 : 0;
    if (left_ == 0 && last_) ended_ = true;
    if (empty_ > most_empty_fragments) fault_ = fmt::format("more than {} empty fragments", most_empty_fragments);
  }
  return taken;
}

void RecordMarks::took(std::size_t payload_bytes) {
  left_ -= payload_bytes;
  if (left_ == 0 && last_) ended_ = true;
}

void append_call(std::string& out, const Call& call) {
  XdrWriter writer(out);
  writer.u32(call.xid);
  writer.u32(message_call);
  writer.u32(rpc_version);
  writer.u32(call.program);
  writer.u32(call.version);
  writer.u32(call.procedure);
  append_no_auth(writer);
  append_no_auth(writer);
}

FoundCall read_call(std::string_view record) {
  FoundCall found;
  XdrReader reader(record);
  found.call.xid = reader.u32("the transaction id");
  const auto type = reader.u32("the message type");
  if (reader.good() && type != message_call) {
    found.fault = fmt::format("byte 5: message type {}, 0 (a call) is expected", type);
    return found;
  }
  found.right_rpc = reader.u32("the RPC version") == rpc_version;
  if (reader.good() && !found.right_rpc) {
    found.is_call = true;
    return found;
  }
  found.call.program = reader.u32("the program");
  found.call.version = reader.u32("the version");
  found.call.procedure = reader.u32("the procedure");
  for (const char* what : {"the credential", "the verifier"}) {
    reader.u32(what);
    reader.opaque(what, most_auth_bytes);
  }
  found.fault = reader.fault();
  found.is_call = reader.good();
  found.arguments = reader.rest();
  return found;
}

void append_reply(std::string& out, std::uint32_t xid, AcceptState state) {
  XdrWriter writer(out);
  writer.u32(xid);
  writer.u32(message_reply);
  writer.u32(reply_accepted);
  append_no_auth(writer);
  writer.u32(static_cast<std::uint32_t>(state));
}

void append_version_mismatch(std::string& out, std::uint32_t xid, std::uint32_t lowest, std::uint32_t highest) {
  append_reply(out, xid, AcceptState::version_mismatch);
  XdrWriter writer(out);
  writer.u32(lowest);
  writer.u32(highest);
}

void append_denied(std::string& out, std::uint32_t xid) {
  XdrWriter writer(out);
  writer.u32(xid);
  writer.u32(message_reply);
  writer.u32(reply_denied);
  writer.u32(rejected_version);
  writer.u32(rpc_version);
  writer.u32(rpc_version);
}

FoundReply read_reply_head(std::string_view bytes) {
  constexpr std::size_t up_to_state = 12, up_to_verifier = 20;
  FoundReply found;
  if (bytes.size() < up_to_state) {
    found.need = up_to_state - bytes.size();
    return found;
  }
  XdrReader reader(bytes);
  found.xid = reader.u32("the transaction id");
  const auto type = reader.u32("the message type");
  const auto state = reader.u32("the reply state");
  if (type != message_reply) {
    found.fault = fmt::format("byte 5: message type {}, 1 (a reply) is expected", type);
  } else if (state == reply_denied) {
    found.head_bytes = reader.at();
    found.refused = "the call was denied (wrong RPC version or credentials)";
  } else if (state != reply_accepted) {
    found.fault = fmt::format("byte 9: reply state {}, 0 (accepted) or 1 (denied) is expected", state);
  }
  if (!found.fault.empty() || !found.refused.empty()) return found;
  if (bytes.size() < up_to_verifier) {
    found.need = up_to_verifier - bytes.size();
    return found;
  }
  reader.u32("the verifier");
  XdrReader length_reader(bytes.substr(16));
  const std::size_t verifier = length_reader.u32("the verifier");
  if (verifier > most_auth_bytes) {
    found.fault = fmt::format("byte 17: the verifier is said to have {} bytes, at most {} are allowed", verifier,
                              most_auth_bytes);
    return found;
  }
  const std::size_t whole = up_to_verifier + verifier + padding_of(verifier) + 4;
  if (bytes.size() < whole) {
    found.need = whole - bytes.size();
    return found;
  }
  found.head_bytes = whole;
  XdrReader accept(bytes.substr(whole - 4));
  found.refused = why_refused(accept.u32("the accept state"));
  return found;
}

void append_mapping(std::string& out, const Mapping& mapping) {
  XdrWriter writer(out);
  writer.u32(mapping.program);
  writer.u32(mapping.version);
  writer.u32(mapping.protocol);
  writer.u32(mapping.port);
}

bool read_mapping(std::string_view arguments, Mapping& mapping) {
  XdrReader reader(arguments);
  mapping.program = reader.u32("the program");
  mapping.version = reader.u32("the version");
  mapping.protocol = reader.u32("the protocol");
  mapping.port = reader.u32("the port");
  return reader.good();
}

std::string get_port_call(std::uint32_t xid, std::uint32_t program, std::uint32_t version) {
  std::string bytes;
  append_call(bytes, {.xid = xid,
                      .program = portmapper_program,
                      .version = portmapper_version,
                      .procedure = static_cast<std::uint32_t>(PortmapperProcedure::get_port)});
  append_mapping(bytes, {.program = program, .version = version});
  return bytes;
}

}  // namespace eyelevel::transport::vxi11
