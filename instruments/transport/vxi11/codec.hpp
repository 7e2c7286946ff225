// SPDX-License-Identifier: Apache-2.0
// The procedures of VXI-11 rev 1.0: numbers, arguments and results in the order of its RPCL (appendix), flags, reasons
// and error numbers (section B). Times in milliseconds. Nothing here does I/O; codec_rpc.hpp has the frame
// around a call, codec_xdr.hpp the numbers.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "instruments/transport/vxi11/codec_xdr.hpp"

namespace eyelevel::transport::vxi11 {

inline constexpr std::uint32_t core_program = 0x0607AF;
inline constexpr std::uint32_t abort_program = 0x0607B0;
inline constexpr std::uint32_t interrupt_program = 0x0607B1;
inline constexpr std::uint32_t program_version = 1;  // of all three

enum class Procedure : std::uint32_t {
  null = 0,          // of every program
  device_abort = 1,  // abort channel
  create_link = 10,
  device_write = 11,
  device_read = 12,
  device_readstb = 13,
  device_trigger = 14,
  device_clear = 15,
  device_remote = 16,
  device_local = 17,
  device_lock = 18,
  device_unlock = 19,
  device_enable_srq = 20,
  device_docmd = 22,
  destroy_link = 23,
  create_intr_chan = 25,
  destroy_intr_chan = 26,
  device_intr_srq = 30,  // interrupt channel, from the instrument, without reply
};

enum class DeviceError : std::int32_t {
  none = 0,
  syntax = 1,
  not_accessible = 3,
  invalid_link = 4,
  parameter = 5,
  channel_not_established = 6,
  not_supported = 8,
  out_of_resources = 9,
  locked = 11,
  no_lock = 12,
  io_timeout = 15,
  io = 17,
  invalid_address = 21,
  aborted = 23,
  channel_established = 29,
};
// "the device is locked by another link (VXI-11 error 11)"
std::string describe(DeviceError error);

inline constexpr std::uint32_t flag_wait_lock = 0x01, flag_end = 0x08, flag_term_char = 0x80;
inline constexpr std::uint32_t reason_count = 1, reason_char = 2, reason_end = 4;

inline constexpr std::size_t most_device_name_bytes = 256;
inline constexpr std::size_t most_handle_bytes = 40;
inline constexpr std::size_t most_small_bytes = 4096;  // of any call or reply that carries no message

struct CreateLink {
  std::int32_t client_id = 0;
  bool lock_device = false;
  std::uint32_t lock_timeout_ms = 0;
  std::string device;
};
struct CreatedLink {
  DeviceError error = DeviceError::none;
  std::int32_t link = 0;
  std::uint32_t abort_port = 0;  // a port in the low 16 bits
  std::uint32_t most_receive_bytes = 0;
};

// What follows the head is the data; padding_of() zeros end it.
struct WriteHead {
  std::int32_t link = 0;
  std::uint32_t io_timeout_ms = 0;
  std::uint32_t lock_timeout_ms = 0;
  std::uint32_t flags = 0;
  std::uint32_t data_bytes = 0;
};
struct Write {
  WriteHead head;
  std::string_view data;  // in the arguments that were read
};
struct Written {
  DeviceError error = DeviceError::none;
  std::uint32_t bytes = 0;
};

struct Read {
  std::int32_t link = 0;
  std::uint32_t most_bytes = 0;
  std::uint32_t io_timeout_ms = 0;
  std::uint32_t lock_timeout_ms = 0;
  std::uint32_t flags = 0;
  std::uint32_t term_char = 0;
};
// What follows the head is the data.
struct ReadHead {
  static constexpr std::size_t bytes = 12;
  DeviceError error = DeviceError::none;
  std::uint32_t reason = 0;
  std::uint32_t data_bytes = 0;
};

struct Generic {  // readstb, trigger, clear, remote, local
  std::int32_t link = 0;
  std::uint32_t flags = 0;
  std::uint32_t lock_timeout_ms = 0;
  std::uint32_t io_timeout_ms = 0;
};
struct StatusByte {
  DeviceError error = DeviceError::none;
  std::uint32_t status = 0;
};

struct Lock {
  std::int32_t link = 0;
  std::uint32_t flags = 0;
  std::uint32_t lock_timeout_ms = 0;
};

struct EnableRequests {  // device_enable_srq
  std::int32_t link = 0;
  bool enable = false;
  std::string handle = {};
};

struct InterruptChannel {                           // create_intr_chan
  static constexpr std::uint32_t tcp = 0, udp = 1;  // the protocol family's two values
  std::uint32_t address = 0;                        // IPv4
  std::uint32_t port = 0;
  std::uint32_t program = interrupt_program;
  std::uint32_t version = program_version;
  std::uint32_t family = tcp;
};

void append(std::string& out, const CreateLink& call);
void append(std::string& out, const CreatedLink& result);
void append(std::string& out, const WriteHead& call);
void append(std::string& out, const Written& result);
void append(std::string& out, const Read& call);
void append(std::string& out, const ReadHead& result);
void append(std::string& out, const Generic& call);
void append(std::string& out, const StatusByte& result);
void append(std::string& out, const Lock& call);
void append(std::string& out, const EnableRequests& call);
void append(std::string& out, const InterruptChannel& call);
void append_link(std::string& out, std::int32_t link);          // unlock, destroy_link, abort
void append_error(std::string& out, DeviceError error);         // the result that is an error alone
void append_handle(std::string& out, std::string_view handle);  // device_intr_srq

// Each reads what append() wrote; a fault stays in the reader.
void read(XdrReader& reader, CreateLink& call);
void read(XdrReader& reader, CreatedLink& result);
void read(XdrReader& reader, Write& call, std::size_t most_data_bytes);
void read(XdrReader& reader, Written& result);
void read(XdrReader& reader, Read& call);
void read(XdrReader& reader, ReadHead& result);
void read(XdrReader& reader, Generic& call);
void read(XdrReader& reader, StatusByte& result);
void read(XdrReader& reader, Lock& call);
void read(XdrReader& reader, EnableRequests& call);
void read(XdrReader& reader, InterruptChannel& call);
std::int32_t read_link(XdrReader& reader);
DeviceError read_error(XdrReader& reader);

}  // namespace eyelevel::transport::vxi11
