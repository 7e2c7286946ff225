// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/socket/client.hpp"

#include <fmt/format.h>

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/connect.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <vector>

#include "instruments/transport/detail/line_stream.hpp"
#include "instruments/transport/error.hpp"

namespace eyelevel::transport::socket {
namespace asio = boost::asio;
using asio::ip::tcp;
namespace {

class SocketLink final : public Link {
 public:
  SocketLink(const asio::any_io_executor& executor, ResourceName name)
      : name_(std::move(name)), text_(name_.canonical()), line_(tcp::socket(executor), text_) {}

  const std::string& resource_name() const override { return text_; }

  task<> open() {
    boost::system::error_code error;
    const auto endpoints = co_await resolved();
    co_await asio::async_connect(line_.stream, endpoints, asio::redirect_error(asio::use_awaitable, error));
    if (error) fail_with(error, true, text_, fmt::format("cannot connect to port {}", name_.port));
    // Without this, short messages wait for an acknowledgement of up to 40 ms.
    line_.stream.set_option(tcp::no_delay(true), error);
    if (!error) line_.stream.set_option(asio::socket_base::keep_alive(true), error);
    if (error) fail_with(error, true, text_, "cannot prepare the connection");
  }

  task<> write(std::string_view message) override {
    discard_stale();
    co_await line_.write(message);
  }

  task<> read(Buffer& into, std::size_t most) override { co_await line_.read(into, most); }

  task<> clear() override {
    close();
    line_.forget();
    co_await open();
  }

  void close() noexcept override {
    boost::system::error_code closed;  // nothing can be done about a failing close
    line_.stream.close(closed);
  }

 private:
  task<std::vector<tcp::endpoint>> resolved() {
    boost::system::error_code error;
    std::string host = name_.host;
    if (host.starts_with('[')) host = host.substr(1, host.size() - 2);
    const auto address = asio::ip::make_address(host, error);
    if (!error) co_return std::vector{tcp::endpoint(address, name_.port)};
    tcp::resolver resolver(line_.stream.get_executor());
    const auto found = co_await resolver.async_resolve(host, std::to_string(name_.port),
                                                       asio::redirect_error(asio::use_awaitable, error));
    if (error) fail_with(error, true, text_, fmt::format("the name {} cannot be resolved", host));
    std::vector<tcp::endpoint> endpoints;
    for (const auto& entry : found) endpoints.push_back(entry.endpoint());
    co_return endpoints;
  }

  // Bytes that are there before the next message is sent answer nothing that will be asked.
  void discard_stale() {
    line_.forget();
    boost::system::error_code error;
    while (line_.stream.available(error) > 0 && !error)
      if (line_.stream.read_some(line_.scratch(), error) == 0) break;
  }

  ResourceName name_;
  std::string text_;
  detail::LineStream<tcp::socket> line_;
};

}  // namespace

task<std::unique_ptr<Link>> connect(ResourceName name) {
  const auto executor = co_await asio::this_coro::executor;
  auto link = std::make_unique<SocketLink>(executor, std::move(name));
  co_await link->open();
  co_return link;
}

}  // namespace eyelevel::transport::socket
