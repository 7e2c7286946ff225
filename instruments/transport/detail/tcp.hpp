// SPDX-License-Identifier: Apache-2.0
// What the transports over TCP share: a host (name, IPv4, or IPv6 in brackets) and a port to a connected socket, with
// errors that say which step failed.
#pragma once

#include <fmt/format.h>

#include <boost/asio/connect.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/system/error_code.hpp>

#include <string>
#include <string_view>
#include <vector>

#include "core/base/task.hpp"
#include "instruments/transport/error.hpp"

namespace eyelevel::transport::detail {

// `where` is the resource name. Throws TransportError(no_connection).
inline task<> connect_tcp(boost::asio::ip::tcp::socket& socket, std::string host, std::uint16_t port,
                          std::string_view where) {
  namespace asio = boost::asio;
  using asio::ip::tcp;
  boost::system::error_code error;
  if (host.starts_with('[')) host = host.substr(1, host.size() - 2);
  std::vector<tcp::endpoint> endpoints;
  const auto address = asio::ip::make_address(host, error);
  if (!error) {
    endpoints.emplace_back(address, port);
  } else {
    tcp::resolver resolver(socket.get_executor());
    const auto found =
        co_await resolver.async_resolve(host, std::to_string(port), asio::redirect_error(asio::use_awaitable, error));
    if (error) fail_with(error, true, where, fmt::format("the name {} cannot be resolved", host));
    for (const auto& entry : found) endpoints.push_back(entry.endpoint());
  }
  co_await asio::async_connect(socket, endpoints, asio::redirect_error(asio::use_awaitable, error));
  if (error) fail_with(error, true, where, fmt::format("cannot connect to port {}", port));
}

}  // namespace eyelevel::transport::detail
