// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/vxi11/codec.hpp"

#include <fmt/format.h>

namespace eyelevel::transport::vxi11 {
namespace {

std::string_view words_of(DeviceError error) {
  switch (error) {
    case DeviceError::none: return "no error";
    case DeviceError::syntax: return "syntax error";
    case DeviceError::not_accessible: return "the device is not accessible";
    case DeviceError::invalid_link: return "the link is not known there";
    case DeviceError::parameter: return "a parameter is wrong";
    case DeviceError::channel_not_established: return "the channel could not be established";
    case DeviceError::not_supported: return "the operation is not supported";
    case DeviceError::out_of_resources: return "the instrument is out of resources";
    case DeviceError::locked: return "the device is locked by another link";
    case DeviceError::no_lock: return "no lock is held by this link";
    case DeviceError::io_timeout: return "the instrument's I/O time ran out";
    case DeviceError::io: return "I/O error in the instrument";
    case DeviceError::invalid_address: return "the address is invalid";
    case DeviceError::aborted: return "the call was aborted";
    case DeviceError::channel_established: return "the channel is established already";
  }
  return "unknown error";
}

}  // namespace

std::string describe(DeviceError error) {
  return fmt::format("{} (VXI-11 error {})", words_of(error), static_cast<std::int32_t>(error));
}

void append(std::string& out, const CreateLink& call) {
  XdrWriter writer(out);
  writer.i32(call.client_id);
  writer.boolean(call.lock_device);
  writer.u32(call.lock_timeout_ms);
  writer.opaque(call.device);
}

void append(std::string& out, const CreatedLink& result) {
  XdrWriter writer(out);
  writer.i32(static_cast<std::int32_t>(result.error));
  writer.i32(result.link);
  writer.u32(result.abort_port);
  writer.u32(result.most_receive_bytes);
}

void append(std::string& out, const WriteHead& call) {
  XdrWriter writer(out);
  writer.i32(call.link);
  writer.u32(call.io_timeout_ms);
  writer.u32(call.lock_timeout_ms);
  writer.u32(call.flags);
  writer.u32(call.data_bytes);
}

void append(std::string& out, const Written& result) {
  XdrWriter writer(out);
  writer.i32(static_cast<std::int32_t>(result.error));
  writer.u32(result.bytes);
}

void append(std::string& out, const Read& call) {
  XdrWriter writer(out);
  writer.i32(call.link);
  writer.u32(call.most_bytes);
  writer.u32(call.io_timeout_ms);
  writer.u32(call.lock_timeout_ms);
  writer.u32(call.flags);
  writer.u32(call.term_char);
}

void append(std::string& out, const ReadHead& result) {
  XdrWriter writer(out);
  writer.i32(static_cast<std::int32_t>(result.error));
  writer.u32(result.reason);
  writer.u32(result.data_bytes);
}

void append(std::string& out, const Generic& call) {
  XdrWriter writer(out);
  writer.i32(call.link);
  writer.u32(call.flags);
  writer.u32(call.lock_timeout_ms);
  writer.u32(call.io_timeout_ms);
}

void append(std::string& out, const StatusByte& result) {
  XdrWriter writer(out);
  writer.i32(static_cast<std::int32_t>(result.error));
  writer.u32(result.status);
}

void append(std::string& out, const Lock& call) {
  XdrWriter writer(out);
  writer.i32(call.link);
  writer.u32(call.flags);
  writer.u32(call.lock_timeout_ms);
}

void append(std::string& out, const EnableRequests& call) {
  XdrWriter writer(out);
  writer.i32(call.link);
  writer.boolean(call.enable);
  writer.opaque(call.handle);
}

void append(std::string& out, const InterruptChannel& call) {
  XdrWriter writer(out);
  writer.u32(call.address);
  writer.u32(call.port);
  writer.u32(call.program);
  writer.u32(call.version);
  writer.u32(call.family);
}

void append_link(std::string& out, std::int32_t link) { XdrWriter(out).i32(link); }

void append_error(std::string& out, DeviceError error) { XdrWriter(out).i32(static_cast<std::int32_t>(error)); }

void append_handle(std::string& out, std::string_view handle) { XdrWriter(out).opaque(handle); }

void read(XdrReader& reader, CreateLink& call) {
  call.client_id = reader.i32("clientId");
  call.lock_device = reader.boolean("lockDevice");
  call.lock_timeout_ms = reader.u32("lock_timeout");
  call.device = reader.opaque("device", most_device_name_bytes);
}

void read(XdrReader& reader, CreatedLink& result) {
  result.error = read_error(reader);
  result.link = reader.i32("lid");
  result.abort_port = reader.u32("abortPort");
  result.most_receive_bytes = reader.u32("maxRecvSize");
}

void read(XdrReader& reader, Write& call, std::size_t most_data_bytes) {
  call.head.link = reader.i32("lid");
  call.head.io_timeout_ms = reader.u32("io_timeout");
  call.head.lock_timeout_ms = reader.u32("lock_timeout");
  call.head.flags = reader.u32("flags");
  call.data = reader.opaque("data", most_data_bytes);
  call.head.data_bytes = static_cast<std::uint32_t>(call.data.size());
}

void read(XdrReader& reader, Written& result) {
  result.error = read_error(reader);
  result.bytes = reader.u32("size");
}

void read(XdrReader& reader, Read& call) {
  call.link = reader.i32("lid");
  call.most_bytes = reader.u32("requestSize");
  call.io_timeout_ms = reader.u32("io_timeout");
  call.lock_timeout_ms = reader.u32("lock_timeout");
  call.flags = reader.u32("flags");
  call.term_char = reader.u32("termChar");
}

void read(XdrReader& reader, ReadHead& result) {
  result.error = read_error(reader);
  result.reason = reader.u32("reason");
  result.data_bytes = reader.u32("data");
}

void read(XdrReader& reader, Generic& call) {
  call.link = reader.i32("lid");
  call.flags = reader.u32("flags");
  call.lock_timeout_ms = reader.u32("lock_timeout");
  call.io_timeout_ms = reader.u32("io_timeout");
}

void read(XdrReader& reader, StatusByte& result) {
  result.error = read_error(reader);
  result.status = reader.u32("stb");
}

void read(XdrReader& reader, Lock& call) {
  call.link = reader.i32("lid");
  call.flags = reader.u32("flags");
  call.lock_timeout_ms = reader.u32("lock_timeout");
}

void read(XdrReader& reader, EnableRequests& call) {
  call.link = reader.i32("lid");
  call.enable = reader.boolean("enable");
  call.handle = reader.opaque("handle", most_handle_bytes);
}

void read(XdrReader& reader, InterruptChannel& call) {
  call.address = reader.u32("hostAddr");
  call.port = reader.u32("hostPort");
  call.program = reader.u32("progNum");
  call.version = reader.u32("progVers");
  call.family = reader.u32("progFamily");
}

std::int32_t read_link(XdrReader& reader) { return reader.i32("lid"); }

DeviceError read_error(XdrReader& reader) { return static_cast<DeviceError>(reader.i32("error")); }

}  // namespace eyelevel::transport::vxi11
