// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/vxi11/locate.hpp"

#include <fmt/format.h>

#include <boost/asio/connect.hpp>
#include <boost/asio/ip/udp.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/system/system_error.hpp>

#include <array>
#include <vector>

#include "instruments/transport/error.hpp"
#include "instruments/transport/vxi11/codec.hpp"
#include "instruments/transport/vxi11/rpc_client.hpp"

namespace eyelevel::transport::vxi11 {
namespace asio = boost::asio;
using asio::ip::tcp;
using asio::ip::udp;
namespace {

constexpr std::string_view advise_firewall =
    "is VXI-11 switched on in the instrument's LAN settings, and does a firewall let port 111 and the ports above 1024 "
    "through?";

[[noreturn]] void no_connection(const std::string& resource, std::string what, const boost::system::error_code& error) {
  if (error == asio::error::operation_aborted) throw boost::system::system_error(error);
  fail(base::ErrorCode::no_connection, resource, fmt::format("{}: {}", what, error.message()),
       std::string(advise_firewall));
}

task<std::vector<asio::ip::address>> resolved(const Locate& where) {
  boost::system::error_code error;
  std::string host = where.host;
  if (host.starts_with('[')) host = host.substr(1, host.size() - 2);
  std::vector<asio::ip::address> addresses{asio::ip::make_address(host, error)};
  if (!error) co_return addresses;
  addresses.clear();
  tcp::resolver resolver(co_await asio::this_coro::executor);
  const auto found = co_await resolver.async_resolve(host, "", asio::redirect_error(asio::use_awaitable, error));
  if (error == asio::error::operation_aborted) throw boost::system::system_error(error);
  if (error)
    fail(base::ErrorCode::no_connection, where.resource,
         fmt::format("the name {} cannot be resolved: {}", host, error.message()),
         "write the instrument's address in place of its name");
  for (const auto& entry : found) addresses.push_back(entry.endpoint().address());
  co_return addresses;
}

std::uint16_t port_from(std::string_view results, const Locate& where) {
  XdrReader reader(results);
  const auto port = reader.u32("the port");
  if (!reader.good()) throw WireFault(reader.fault());
  if (port > 0xFFFF) throw WireFault(fmt::format("byte 1: port {} is none", port));
  if (port == 0)
    fail(base::ErrorCode::no_connection, where.resource,
         fmt::format("the portmapper on port {} answers, but VXI-11 is not served there", where.portmapper_port),
         "switch VXI-11 on in the instrument's LAN settings, or use its socket or HiSLIP");
  return static_cast<std::uint16_t>(port);
}

task<std::uint16_t> ask_by_datagram(asio::ip::address address, const Locate& where) {
  constexpr std::uint32_t xid = 1;
  const udp::endpoint endpoint(address, where.portmapper_port);
  udp::socket socket(co_await asio::this_coro::executor, endpoint.protocol());
  socket.connect(endpoint);  // so that a port where nobody listens is told
  const std::string call = get_port_call(xid, core_program, program_version);
  co_await socket.async_send(asio::buffer(call), asio::use_awaitable);
  std::array<char, 1024> bytes;
  for (;;) {
    const std::size_t count = co_await socket.async_receive(asio::buffer(bytes), asio::use_awaitable);
    const std::string_view reply(bytes.data(), count);
    const auto head = read_reply_head(reply);
    if (head.need > 0 || !head.fault.empty() || head.xid != xid) continue;  // not for us
    if (!head.refused.empty()) throw CallRefused(head.refused);
    co_return port_from(reply.substr(head.head_bytes), where);
  }
}

// The port of the core channel; `address` becomes the one of the host's addresses that answers.
task<std::uint16_t> core_port(const Locate& where, const std::vector<asio::ip::address>& addresses,
                              asio::ip::address& address) {
  std::vector<tcp::endpoint> endpoints;
  for (const auto& each : addresses) endpoints.emplace_back(each, where.portmapper_port);
  const std::string what = fmt::format("the portmapper on port {}", where.portmapper_port);
  try {
    tcp::socket socket(co_await asio::this_coro::executor);
    boost::system::error_code error;
    const auto answered =
        co_await asio::async_connect(socket, endpoints, asio::redirect_error(asio::use_awaitable, error));
    if (error == asio::error::connection_refused) {
      address = addresses.back();
      co_return co_await ask_by_datagram(address, where);
    }
    if (error) throw boost::system::system_error(error);
    address = answered.address();
    RpcClient portmapper(std::move(socket), portmapper_program, portmapper_version, most_small_bytes);
    std::string arguments;
    append_mapping(arguments, {.program = core_program, .version = program_version});
    const auto results = co_await portmapper.call(static_cast<std::uint32_t>(PortmapperProcedure::get_port), arguments);
    co_return port_from(results, where);
  } catch (const WireFault& fault) {
    fail(base::ErrorCode::no_connection, where.resource,
         fmt::format("{} does not answer as one: {}", what, fault.what()), "is this the address of an instrument?");
  } catch (const boost::system::system_error& error) {
    no_connection(where.resource, what + " cannot be asked", error.code());
  }
}

}  // namespace

task<tcp::socket> connect_to(asio::ip::address address, std::uint16_t port, std::string what, std::string resource) {
  tcp::socket socket(co_await asio::this_coro::executor);
  boost::system::error_code error;
  co_await socket.async_connect(tcp::endpoint(address, port), asio::redirect_error(asio::use_awaitable, error));
  if (error) no_connection(resource, fmt::format("{} on port {} cannot be reached", what, port), error);
  co_return socket;
}

task<tcp::socket> connect_to_core(Locate where, std::string& step) {
  step = fmt::format("the name {}", where.host);
  const auto addresses = co_await resolved(where);
  step = fmt::format("the portmapper on port {}", where.portmapper_port);
  asio::ip::address address;
  const auto port = co_await core_port(where, addresses, address);
  step = fmt::format("the core channel on port {}", port);
  co_return co_await connect_to(address, port, "the core channel", where.resource);
}

}  // namespace eyelevel::transport::vxi11
