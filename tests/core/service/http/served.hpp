// SPDX-License-Identifier: Apache-2.0
// A server on loopback and one client that says its bytes, plainly or over TLS, and hears all that comes back.
#pragma once

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/connect.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/read.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/ssl.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>

#include <optional>
#include <string>
#include <vector>

#include "core/base/gong.hpp"
#include "core/service/http/server.hpp"
#include "tests/support/run_task.hpp"

namespace eyelevel::test {
namespace asio = boost::asio;
using service::http::Limits;
using service::http::Request;
using service::http::Response;
using service::http::Tls;

class Served {
 public:
  explicit Served(const Limits& limits = {}, const std::optional<Tls>& tls = {})
      : server_(
            wall_.loop.get_executor(), *wall_.timeline, "127.0.0.1:0",
            {.answer = [this](const Request& request) { return answer(request); },
             .feed = [](const Request& request, Response& refused) -> std::function<task<>(service::http::Outlet&)> {
               if (request.path == "/feed") return [](service::http::Outlet& outlet) { return talk(outlet); };
               refused = {404, "text/plain", "none", {}};
               return {};
             }},
            limits, tls) {}

  // All that comes back for these bytes until the server closes.
  std::string sent(const std::string& bytes) {
    std::string back;
    wall_.run(around([&](std::uint16_t port) { return client(port, bytes, back); }));
    return back;
  }
  // Over TLS, trusting the certificate of that name alone; throws when the two do not agree.
  std::string sent_over_tls(const std::string& bytes, const std::string& trusted, const std::string& name) {
    std::string back;
    wall_.run(around([&](std::uint16_t port) { return tls_client(port, bytes, trusted, name, back); }));
    return back;
  }
  std::vector<Request> asked;

 private:
  task<Response> answer(const Request& request) {
    asked.push_back(request);
    co_return Response{200, "text/plain", "hello " + request.body, {}};
  }
  static task<> talk(service::http::Outlet& outlet) {
    for (int i = 0; i < 3; ++i) co_await outlet.text("message " + std::to_string(i));
  }

  // Serves while `visit` is under way.
  task<> around(std::function<task<>(std::uint16_t)> visit) {
    asio::cancellation_signal stop;
    base::Gong ended;
    bool is_serving = true;
    asio::co_spawn(co_await asio::this_coro::executor, server_.serve(),
                   asio::bind_cancellation_slot(stop.slot(), [&](const std::exception_ptr&) {
                     is_serving = false;
                     ended.strike();
                   }));
    std::exception_ptr failure;
    try {
      co_await visit(static_cast<std::uint16_t>(server_.port()));
    } catch (...) {
      failure = std::current_exception();
    }
    stop.emit(asio::cancellation_type::terminal);
    while (is_serving) co_await ended.wait();
    if (failure) std::rethrow_exception(failure);
  }

  static task<> client(std::uint16_t port, const std::string& bytes, std::string& back) {
    asio::ip::tcp::socket socket(co_await asio::this_coro::executor);
    co_await socket.async_connect({asio::ip::make_address("127.0.0.1"), port}, asio::use_awaitable);
    co_await talk_to(socket, bytes, back);
  }

  static task<> tls_client(std::uint16_t port, const std::string& bytes, const std::string& trusted,
                           const std::string& name, std::string& back) {
    asio::ssl::context context(asio::ssl::context::tls_client);
    context.add_certificate_authority(asio::buffer(trusted));
    context.set_verify_mode(asio::ssl::verify_peer);
    asio::ssl::stream<asio::ip::tcp::socket> stream(co_await asio::this_coro::executor, context);
    stream.set_verify_callback(asio::ssl::host_name_verification(name));
    co_await stream.next_layer().async_connect({asio::ip::make_address("127.0.0.1"), port}, asio::use_awaitable);
    co_await stream.async_handshake(asio::ssl::stream_base::client, asio::use_awaitable);
    co_await talk_to(stream, bytes, back);
  }

  template <class Stream>
  static task<> talk_to(Stream& stream, const std::string& bytes, std::string& back) {
    boost::system::error_code error;
    co_await asio::async_write(stream, asio::buffer(bytes), asio::redirect_error(asio::use_awaitable, error));
    co_await asio::async_read(stream, asio::dynamic_buffer(back), asio::redirect_error(asio::use_awaitable, error));
  }

  Wall wall_;
  service::http::Server server_;
};

inline std::string get(const std::string& target, const std::string& more = "") {
  return "GET " + target + " HTTP/1.1\r\nHost: localhost\r\n" + more + "Connection: close\r\n\r\n";
}

inline std::string status_line(const std::string& answer) { return answer.substr(0, answer.find("\r\n")); }

}  // namespace eyelevel::test
