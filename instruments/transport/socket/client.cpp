// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/socket/client.hpp"

#include <fmt/format.h>

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>

#include <charconv>

#include "instruments/transport/detail/line_stream.hpp"
#include "instruments/transport/detail/tcp.hpp"
#include "instruments/transport/error.hpp"

namespace eyelevel::transport::socket {
namespace asio = boost::asio;
using asio::ip::tcp;
namespace {

class SocketLink final : public Link {
 public:
  SocketLink(const asio::any_io_executor& executor, ResourceName name)
      : name_(std::move(name)), text_(name_.canonical()), line_(tcp::socket(executor), text_), control_(executor) {}

  const std::string& resource_name() const override { return text_; }

  task<> open() {
    co_await detail::connect_tcp(line_.stream, name_.host, name_.port, text_);
    boost::system::error_code error;
    // Without this, short messages wait for an acknowledgement of up to 40 ms.
    line_.stream.set_option(tcp::no_delay(true), error);
    if (!error) line_.stream.set_option(asio::socket_base::keep_alive(true), error);
    if (!error) line_.stream.non_blocking(true, error);
    if (error) fail_with(error, true, text_, "cannot prepare the connection");
  }

  task<> write(std::string_view message) override {
    if (asking_) co_await clear();  // an answer about the control connection may still come
    discard_stale();
    if (!line_.wrote_at_once(message)) co_await line_.write(message);
  }

  task<> query(std::string_view message, Buffer& into, std::size_t most) override {
    if (asking_) {
      into.clear();  // what is in it belongs to an earlier query
      co_await clear();
    }
    co_await line_.query(message, into, most, [this](std::string_view so_far) { tell_progress(so_far); });
  }

  task<> read(Buffer& into, std::size_t most) override {
    return line_.read(into, most, [this](std::string_view so_far) { tell_progress(so_far); });
  }

  // Late bytes may be under way on the connection whatever the control connection says, so it is always made anew.
  task<> clear() override {
    if (control_.is_open()) co_await clear_by_control();
    boost::system::error_code closed;  // nothing can be done about a failing close
    line_.stream.close(closed);
    line_.forget();
    asking_ = false;
    co_await open();
  }

  task<> wait_for_service() override {
    if (!control_.is_open()) {
      co_await open_control();
      // What was asked for before anyone listened.
      constexpr unsigned service = 0x40;  // MSS
      if ((co_await status_byte() & service) != 0) co_return;
    }
    while (!requested_) take_control_line(co_await control_line());
    requested_ = false;
  }

  void close() noexcept override {
    boost::system::error_code closed;  // nothing can be done about a failing close
    line_.stream.close(closed);
    control_.close(closed);
  }

 private:
  // The control connection that some instruments offer beside the data; no standard stands behind it.
  task<> open_control() {
    asking_ = true;
    co_await line_.write("SYST:COMM:TCP:CONT?");
    Buffer answer;
    co_await line_.read(answer, 64, [](std::string_view) {});
    asking_ = false;
    unsigned port = 0;
    const auto [end, error] = std::from_chars(answer.data(), answer.data() + answer.size(), port);
    if (error != std::errc() || end != answer.data() + answer.size() || port == 0 || port > 65535)
      refuse("service requests (the instrument offers no control connection); ask *STB? or *ESR? from time to time");
    boost::system::error_code failed;
    const tcp::endpoint peer(line_.stream.remote_endpoint(failed).address(), static_cast<std::uint16_t>(port));
    if (!failed) co_await control_.async_connect(peer, asio::redirect_error(asio::use_awaitable, failed));
    if (failed) {
      boost::system::error_code closed;
      control_.close(closed);
      fail_with(failed, true, text_, fmt::format("cannot connect to the control port {}", port));
    }
    control_ahead_.clear();
  }

  task<std::string> control_line() {
    constexpr std::size_t most = 256;
    boost::system::error_code error;
    const std::size_t size = co_await asio::async_read_until(control_, asio::dynamic_buffer(control_ahead_, most), '\n',
                                                             asio::redirect_error(asio::use_awaitable, error));
    if (error) {
      if (error == asio::error::operation_aborted) throw boost::system::system_error(error);
      boost::system::error_code closed;
      control_.close(closed);
      fail_with(error, false, text_, "while listening on the control connection");
    }
    std::string line = control_ahead_.substr(0, size);
    control_ahead_.erase(0, size);
    co_return line;
  }

  // True when it is the echo of a device clear; service requests are remembered, anything else is not for us.
  bool take_control_line(std::string_view line) {
    if (line.starts_with("SRQ")) requested_ = true;
    return line.starts_with("DCL");
  }

  // What the instrument executes ends; if it does not answer, the new connection must do.
  task<> clear_by_control() {
    boost::system::error_code error;
    co_await asio::async_write(control_, asio::buffer("DCL\n", 4), asio::redirect_error(asio::use_awaitable, error));
    try {
      while (!error && !take_control_line(co_await control_line())) {
      }
    } catch (const TransportError&) {
      error = asio::error::not_connected;
    } catch (...) {  // cancelled: silent on this connection, too
      close();
      throw;
    }
    boost::system::error_code closed;
    if (error) control_.close(closed);
  }

  // Bytes that are there before the next message is sent answer nothing that will be asked. Reading costs the system
  // less than to be asked how many there are.
  void discard_stale() {
    line_.forget();
    boost::system::error_code error;
    while (!error) line_.stream.read_some(line_.scratch(), error);
    // An end of the stream is told where the answer is missed.
    if (error != asio::error::would_block && error != asio::error::eof) fail_with(error, false, text_, "while sending");
  }

  ResourceName name_;
  std::string text_;
  detail::LineStream<tcp::socket> line_;
  bool asking_ = false;  // for the control connection
  tcp::socket control_;
  std::string control_ahead_;
  bool requested_ = false;  // service, and wait_for_service() has not told yet
};

}  // namespace

task<std::unique_ptr<Link>> connect(ResourceName name) {
  const auto executor = co_await asio::this_coro::executor;
  auto link = std::make_unique<SocketLink>(executor, std::move(name));
  co_await link->open();
  co_return link;
}

}  // namespace eyelevel::transport::socket
