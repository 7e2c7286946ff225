// SPDX-License-Identifier: Apache-2.0
// VXI-11 calls one by one, for tests of the server: what a client may send that our own never would.
#pragma once

#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <cstdint>
#include <memory>
#include <string>
#include <string_view>

#include "instruments/transport/vxi11/codec.hpp"
#include "instruments/transport/vxi11/rpc_client.hpp"
#include "instruments/transport/vxi11/server.hpp"

namespace eyelevel::test {

namespace vxi11 = transport::vxi11;

class RawClient {
 public:
  static task<std::unique_ptr<RawClient>> connect(std::uint16_t port, std::uint32_t program = vxi11::core_program,
                                                  std::uint32_t version = vxi11::program_version) {
    boost::asio::ip::tcp::socket socket(co_await boost::asio::this_coro::executor);
    co_await socket.async_connect({boost::asio::ip::make_address("127.0.0.1"), port}, boost::asio::use_awaitable);
    co_return std::make_unique<RawClient>(std::move(socket), program, version);
  }
  RawClient(boost::asio::ip::tcp::socket socket, std::uint32_t program, std::uint32_t version)
      : rpc(std::move(socket), program, version, std::size_t{2} << 20U) {}

  // The result that is an error, alone or in front.
  template <class Arguments>
  task<std::int32_t> error_of(vxi11::Procedure procedure, Arguments arguments) {
    std::string bytes;
    append(bytes, arguments);
    co_return co_await error_of_bytes(procedure, std::move(bytes));
  }
  task<std::int32_t> error_of_link(vxi11::Procedure procedure, std::int32_t link) {
    std::string bytes;
    vxi11::append_link(bytes, link);
    co_return co_await error_of_bytes(procedure, std::move(bytes));
  }
  task<std::int32_t> error_of_bytes(vxi11::Procedure procedure, std::string bytes) {
    const auto results = co_await rpc.call(static_cast<std::uint32_t>(procedure), std::move(bytes));
    vxi11::XdrReader reader(results);
    co_return static_cast<std::int32_t>(vxi11::read_error(reader));
  }

  task<vxi11::CreatedLink> create_link(std::string device = "inst0", bool lock = false, std::uint32_t lock_ms = 0) {
    std::string bytes;
    append(bytes, vxi11::CreateLink{.lock_device = lock, .lock_timeout_ms = lock_ms, .device = std::move(device)});
    const auto results = co_await rpc.call(static_cast<std::uint32_t>(vxi11::Procedure::create_link), std::move(bytes));
    vxi11::CreatedLink created;
    vxi11::XdrReader reader(results);
    vxi11::read(reader, created);
    co_return created;
  }

  task<vxi11::Written> write(std::int32_t link, std::string data, std::uint32_t flags = vxi11::flag_end,
                             std::uint32_t lock_ms = 0) {
    std::string bytes;
    append(bytes, vxi11::WriteHead{.link = link,
                                   .io_timeout_ms = 1000,
                                   .lock_timeout_ms = lock_ms,
                                   .flags = flags,
                                   .data_bytes = static_cast<std::uint32_t>(data.size())});
    bytes += data;
    bytes.append(vxi11::padding_of(data.size()), '\0');
    const auto results =
        co_await rpc.call(static_cast<std::uint32_t>(vxi11::Procedure::device_write), std::move(bytes));
    vxi11::Written written;
    vxi11::XdrReader reader(results);
    vxi11::read(reader, written);
    co_return written;
  }

  struct Got {
    std::int32_t error = 0;
    std::uint32_t reason = 0;
    std::string data;
    friend bool operator==(const Got&, const Got&) = default;
  };
  task<Got> read(vxi11::Read call) {
    std::string bytes;
    append(bytes, call);
    const auto results = co_await rpc.call(static_cast<std::uint32_t>(vxi11::Procedure::device_read), std::move(bytes));
    vxi11::XdrReader reader(results);
    Got got;
    got.error = static_cast<std::int32_t>(vxi11::read_error(reader));
    got.reason = reader.u32("reason");
    got.data = std::string(reader.opaque("data", 4096));
    co_return got;
  }
  task<Got> read(std::int32_t link, std::uint32_t most = 1000, std::uint32_t io_ms = 2000) {
    return read({.link = link, .most_bytes = most, .io_timeout_ms = io_ms});
  }

  vxi11::RpcClient rpc;
};

}  // namespace eyelevel::test
