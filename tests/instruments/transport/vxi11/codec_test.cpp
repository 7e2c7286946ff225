// SPDX-License-Identifier: Apache-2.0
// Byte vectors: the RPCL of VXI-11 rev 1.0, whose order of fields is that of the bytes. Each structure holds a
// different number in each field, so that two fields that are exchanged are seen.
#include "instruments/transport/vxi11/codec.hpp"

#include <catch2/catch.hpp>

#include "instruments/transport/vxi11/codec_rpc.hpp"

using namespace eyelevel::transport::vxi11;

namespace {

std::string words(std::initializer_list<std::uint32_t> values) {
  std::string bytes;
  XdrWriter writer(bytes);
  for (const auto value : values) writer.u32(value);
  return bytes;
}

template <class Structure>
std::string bytes_of(const Structure& structure) {
  std::string bytes;
  append(bytes, structure);
  return bytes;
}

template <class Structure>
Structure back(const std::string& bytes) {
  Structure structure;
  XdrReader reader(bytes);
  read(reader, structure);
  CHECK(reader.good());
  CHECK(reader.rest().empty());
  return structure;
}

}  // namespace

TEST_CASE("vxi11 codec: create_link of inst0 without lock is a record of 0x40 bytes", "[transport]") {
  std::string record;
  begin_record(record);
  append_call(record, {.xid = 2, .program = core_program, .version = program_version, .procedure = 10});
  append(record, CreateLink{.client_id = 0x11223344, .device = "inst0"});
  end_record(record);
  const std::string arguments =
      std::string("\x11\x22\x33\x44\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x05inst0\x00\x00\x00", 24);
  CHECK(record.substr(0, 4) == words({0x80000040}));
  CHECK(record.substr(44) == arguments);
  CHECK(record.size() == 4 + 0x40);
  const auto call = back<CreateLink>(arguments);
  CHECK(call.client_id == 0x11223344);
  CHECK_FALSE(call.lock_device);
  CHECK(call.device == "inst0");
}

TEST_CASE("vxi11 codec: fields come in the order of the RPCL", "[transport]") {
  CHECK(bytes_of(CreatedLink{DeviceError::out_of_resources, 1, 2, 3}) == words({9, 1, 2, 3}));
  CHECK(bytes_of(WriteHead{1, 2, 3, 4, 5}) == words({1, 2, 3, 4, 5}));
  CHECK(bytes_of(Written{DeviceError::io_timeout, 7}) == words({15, 7}));
  CHECK(bytes_of(
            Read{.link = 1, .most_bytes = 2, .io_timeout_ms = 3, .lock_timeout_ms = 4, .flags = 5, .term_char = 6}) ==
        words({1, 2, 3, 4, 5, 6}));
  CHECK(bytes_of(ReadHead{DeviceError::none, reason_end | reason_count, 9}) == words({0, 5, 9}));
  // In the generic arguments the time for the lock stands before the one for I/O, elsewhere behind it.
  CHECK(bytes_of(Generic{.link = 1, .flags = 2, .lock_timeout_ms = 3, .io_timeout_ms = 4}) == words({1, 2, 3, 4}));
  CHECK(bytes_of(StatusByte{DeviceError::none, 0x50}) == words({0, 0x50}));
  CHECK(bytes_of(Lock{1, 2, 3}) == words({1, 2, 3}));
  CHECK(bytes_of(EnableRequests{1, true, "hand"}) == words({1, 1, 4}) + "hand");
  CHECK(bytes_of(InterruptChannel{.address = 0x7F000001, .port = 700}) == words({0x7F000001, 700, 0x0607B1, 1, 0}));
}

TEST_CASE("vxi11 codec: what is written reads back, with link 0 and with links that look negative", "[transport]") {
  for (const std::int32_t link : {0, 1, -1}) {
    const auto read_call = back<Read>(bytes_of(Read{link, 2, 3, 4, 5, 6}));
    CHECK(read_call.link == link);
    CHECK(read_call.most_bytes == 2);
    CHECK(read_call.io_timeout_ms == 3);
    CHECK(read_call.lock_timeout_ms == 4);
    CHECK(read_call.flags == 5);
    CHECK(read_call.term_char == 6);
    const auto generic = back<Generic>(bytes_of(Generic{link, 2, 3, 4}));
    CHECK(generic.link == link);
    CHECK(generic.lock_timeout_ms == 3);
    CHECK(generic.io_timeout_ms == 4);
    const auto lock = back<Lock>(bytes_of(Lock{link, 2, 3}));
    CHECK(lock.link == link);
    CHECK(lock.lock_timeout_ms == 3);
    const auto enable = back<EnableRequests>(bytes_of(EnableRequests{link, true, "h"}));
    CHECK(enable.link == link);
    CHECK(enable.enable);
    CHECK(enable.handle == "h");
  }
  const auto created = back<CreatedLink>(bytes_of(CreatedLink{DeviceError::none, 1, 2, 3}));
  CHECK(created.link == 1);
  CHECK(created.abort_port == 2);
  CHECK(created.most_receive_bytes == 3);
  CHECK(back<Written>(bytes_of(Written{DeviceError::io_timeout, 7})).bytes == 7);
  CHECK(back<StatusByte>(bytes_of(StatusByte{DeviceError::none, 0x50})).status == 0x50);
  const auto channel = back<InterruptChannel>(bytes_of(InterruptChannel{.address = 1, .port = 2}));
  CHECK(channel.address == 1);
  CHECK(channel.port == 2);
  CHECK(channel.program == interrupt_program);
}

TEST_CASE("vxi11 codec: a write is read with its data, and data beyond the limit is a fault", "[transport]") {
  std::string bytes = bytes_of(WriteHead{1, 2, 3, flag_end, 5});
  bytes += "*IDN?";
  bytes.append(3, '\0');
  XdrReader reader(bytes);
  Write call;
  read(reader, call, 1024);
  CHECK(reader.good());
  CHECK(call.data == "*IDN?");
  CHECK(call.head.flags == flag_end);
  CHECK(call.head.data_bytes == 5);
  XdrReader limited(bytes);
  read(limited, call, 4);
  CHECK(limited.fault() == "byte 17: data is said to have 5 bytes, at most 4 are allowed");
}

TEST_CASE("vxi11 codec: each structure that ends too early is a fault that names the field", "[transport]") {
  const auto fault_of = [](auto structure, std::string bytes) {
    bytes.pop_back();
    XdrReader reader(bytes);
    read(reader, structure);
    return reader.fault();
  };
  CHECK_THAT(fault_of(CreatedLink(), bytes_of(CreatedLink())), Catch::Contains("maxRecvSize"));
  CHECK_THAT(fault_of(Read(), bytes_of(Read())), Catch::Contains("termChar"));
  CHECK_THAT(fault_of(Generic(), bytes_of(Generic())), Catch::Contains("io_timeout"));
  CHECK_THAT(fault_of(Lock(), bytes_of(Lock())), Catch::Contains("lock_timeout"));
  CHECK_THAT(fault_of(InterruptChannel(), bytes_of(InterruptChannel())), Catch::Contains("progFamily"));
  CHECK_THAT(fault_of(EnableRequests(), bytes_of(EnableRequests())), Catch::Contains("handle"));
}

TEST_CASE("vxi11 codec: an error is told in words and with its number, an unknown one too", "[transport]") {
  CHECK(describe(DeviceError::locked) == "the device is locked by another link (VXI-11 error 11)");
  CHECK(describe(static_cast<DeviceError>(77)) == "unknown error (VXI-11 error 77)");
}
