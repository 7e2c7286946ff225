// SPDX-License-Identifier: Apache-2.0
#include "core/service/http/connection.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/ssl/stream.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/http.hpp>
#include <boost/beast/websocket.hpp>
#include <boost/beast/websocket/ssl.hpp>
#include <utility>

#include "core/base/deadline.hpp"
#include "core/base/error.hpp"
#include "core/base/gong.hpp"
#include "core/service/http/problem.hpp"
#include "core/service/http/target.hpp"

namespace eyelevel::service::http {
namespace asio = boost::asio;
namespace beast = boost::beast;
namespace bhttp = beast::http;
namespace websocket = beast::websocket;
using asio::ip::tcp;

namespace {

using Raw = bhttp::request<bhttp::string_body>;

// Empty when its target is none of ours.
std::optional<Request> request_of(const Raw& raw, const std::string& peer) {
  auto target = read_target(std::string_view(raw.target().data(), raw.target().size()));
  if (!target) return std::nullopt;
  Request request{.method = std::string(raw.method_string()),
                  .path = std::move(target->path),
                  .query = std::move(target->query),
                  .headers = {},
                  .body = raw.body(),
                  .peer = peer};
  for (const auto& field : raw) {
    std::string name(field.name_string());
    std::transform(name.begin(), name.end(), name.begin(),
                   [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; });
    request.headers.insert_or_assign(std::move(name), std::string(field.value()));
  }
  return request;
}

bhttp::response<bhttp::string_body> raw_of(Response response, const Raw& request, bool keep) {
  bhttp::response<bhttp::string_body> raw(static_cast<bhttp::status>(response.status), request.version());
  if (!response.type.empty()) raw.set(bhttp::field::content_type, response.type);
  raw.set(bhttp::field::cache_control, "no-store");
  for (const auto& [name, value] : response.headers) raw.set(name, value);
  raw.keep_alive(keep);
  const auto size = response.body.size();
  // RFC 9110, 9.3.2: HEAD has the length of what GET would give, and none of it.
  if (request.method() != bhttp::verb::head) raw.body() = std::move(response.body);
  if (response.status == 204)
    raw.erase(bhttp::field::content_type);
  else
    raw.content_length(size);
  return raw;
}

// What becomes of a request that could not be read.
Response unreadable(const boost::system::error_code& error) {
  if (error == bhttp::error::body_limit) return answer_to(Problem(413, "the body is longer than this server takes"));
  if (error == bhttp::error::header_limit)
    return answer_to(Problem(431, "the header is longer than this server takes"));
  return answer_to(Problem(400, "this is no request that could be understood: " + error.message()));
}

template <class Stream>
class WebSocketOutlet final : public Outlet {
 public:
  WebSocketOutlet(websocket::stream<Stream>& stream, base::Timeline& timeline, base::Duration within)
      : stream_(stream), timeline_(timeline), within_(within) {}

  task<> text(std::string message) override {
    stream_.text(true);
    co_await write(std::move(message));
  }
  task<> binary(std::string message) override {
    stream_.binary(true);
    co_await write(std::move(message));
  }

 private:
  static task<> send(websocket::stream<Stream>& stream, const std::string& message) {
    co_await stream.async_write(asio::buffer(message), asio::use_awaitable);
  }
  task<> write(std::string message) {
    const bool in_time = co_await base::finished_within(timeline_, within_, send(stream_, message));
    if (!in_time) throw base::Error(base::ErrorCode::time_out, "the viewer takes nothing any more");
  }

  websocket::stream<Stream>& stream_;
  base::Timeline& timeline_;
  base::Duration within_;
};

// `Stream`: a socket, or TLS over one.
template <class Stream>
class Connection {
 public:
  Connection(Stream stream, std::string peer, const Serving& serving)
      : stream_(std::move(stream)), peer_(std::move(peer)), serving_(serving) {}

  task<> speak() {
    for (bool keep = true; keep && !is_feed_;) co_await next_request(keep);
  }
  bool is_feed() const { return is_feed_; }
  Stream& stream() { return stream_; }

 private:
  using Response_ = bhttp::response<bhttp::string_body>;
  using Parser = bhttp::request_parser<bhttp::string_body>;

  task<> read_first(boost::system::error_code& error) {
    if (buffer_.size() > 0) co_return;
    const auto got =
        co_await stream_.async_read_some(buffer_.prepare(4096), asio::redirect_error(asio::use_awaitable, error));
    buffer_.commit(got);
  }
  task<> read_request(Parser& parser, boost::system::error_code& error) {
    co_await bhttp::async_read(stream_, buffer_, parser, asio::redirect_error(asio::use_awaitable, error));
  }
  task<> write(Response_& response) { co_await bhttp::async_write(stream_, response, asio::use_awaitable); }

  task<> send(Response_ response) {
    const bool in_time =
        co_await base::finished_within(serving_.timeline, serving_.limits.send_within, write(response));
    if (!in_time) throw base::Error(base::ErrorCode::time_out, "the client takes nothing any more");
  }

  task<> next_request(bool& keep) {
    const auto& limits = serving_.limits;
    boost::system::error_code error;
    keep = false;
    if (!co_await base::finished_within(serving_.timeline, limits.idle, read_first(error)) || error) co_return;
    Parser parser;
    parser.header_limit(static_cast<std::uint32_t>(limits.header_bytes));
    parser.body_limit(limits.body_bytes);
    const bool in_time =
        co_await base::finished_within(serving_.timeline, limits.request_within, read_request(parser, error));
    if (!in_time) error = bhttp::error::partial_message;
    if (error == bhttp::error::end_of_stream) co_return;
    if (error) {
      co_await send(raw_of(unreadable(error), parser.get(), false));
      co_return;
    }
    const Raw raw = parser.release();
    const auto request = request_of(raw, peer_);
    if (!request) {
      co_await send(raw_of(answer_to(Problem(400, "the target of the request is none")), raw, false));
      co_return;
    }
    keep = raw.keep_alive();
    co_await answer(raw, *request, keep);
  }

  task<> answer(const Raw& raw, const Request& request, bool& keep) {
    if (!serving_.rate.take(peer_, serving_.timeline.now())) {
      Response slower = answer_to(Problem(429, "too many requests in a short time", "ask less often").after_seconds(1));
      co_await send(raw_of(std::move(slower), raw, keep));
      co_return;
    }
    if (websocket::is_upgrade(raw)) {
      keep = false;
      Response refused;
      if (auto feed = serving_.handlers.feed(request, refused))
        co_await become_feed(raw, std::move(feed));
      else
        co_await send(raw_of(std::move(refused), raw, false));
      co_return;
    }
    Response response = co_await serving_.handlers.answer(request);
    co_await send(raw_of(std::move(response), raw, keep));
  }

  // The feed writes until the client is gone, which the reading side learns.
  task<> become_feed(const Raw& raw, std::function<task<>(Outlet&)> feed) {
    is_feed_ = true;
    websocket::stream<Stream> stream(std::move(stream_));
    auto timeout = websocket::stream_base::timeout::suggested(beast::role_type::server);
    timeout.idle_timeout = serving_.limits.idle;
    timeout.keep_alive_pings = true;
    stream.set_option(timeout);
    stream.read_message_max(4096);
    co_await stream.async_accept(raw, asio::use_awaitable);
    WebSocketOutlet<Stream> outlet(stream, serving_.timeline, serving_.limits.send_within);
    asio::cancellation_signal gone;
    base::Gong ended;
    bool is_writing = true;
    asio::co_spawn(co_await asio::this_coro::executor, feed(outlet),
                   asio::bind_cancellation_slot(gone.slot(), [&](const std::exception_ptr&) {
                     is_writing = false;  // its error is that the client is gone, or may not look any more
                     ended.strike();
                     boost::system::error_code ignored;  // the reading side ends with the socket
                     beast::get_lowest_layer(stream).close(ignored);
                   }));
    try {
      co_await drained(stream);
    } catch (const boost::system::system_error&) {
      gone.emit(asio::cancellation_type::terminal);  // also when it is us who are stopped
    }
    co_await asio::this_coro::reset_cancellation_state(asio::disable_cancellation());
    while (is_writing) co_await ended.wait();
  }

  // Reads until the client is gone.
  static task<> drained(websocket::stream<Stream>& stream) {
    beast::flat_buffer buffer;
    for (;;) {
      co_await stream.async_read(buffer, asio::use_awaitable);
      buffer.clear();
    }
  }

  Stream stream_;
  std::string peer_;
  const Serving& serving_;
  beast::flat_buffer buffer_;
  bool is_feed_ = false;
};

task<> speak_plainly(tcp::socket socket, std::string peer, const Serving& serving) {
  Connection<tcp::socket> connection(std::move(socket), std::move(peer), serving);
  co_await connection.speak();
  boost::system::error_code ignored;  // the client may be gone
  if (!connection.is_feed()) connection.stream().shutdown(tcp::socket::shutdown_send, ignored);
}

using Secure = asio::ssl::stream<tcp::socket>;

// RFC 8446, 5.1: the first byte of TLS is that of a handshake. Anything else is somebody who wrote http for https.
task<> look_at_first(tcp::socket& socket, bool& is_tls, boost::system::error_code& error) {
  std::array<unsigned char, 1> first{};
  const auto got = co_await socket.async_receive(asio::buffer(first), tcp::socket::message_peek,
                                                 asio::redirect_error(asio::use_awaitable, error));
  constexpr unsigned char handshake = 22;
  is_tls = got == 1 && first[0] == handshake;
}

task<> say_https(tcp::socket& socket) {
  auto raw = raw_of(answer_to(Problem(400, "this address speaks TLS", "write https:// for http://")), Raw{}, false);
  boost::system::error_code ignored;  // the client may be gone
  co_await bhttp::async_write(socket, raw, asio::redirect_error(asio::use_awaitable, ignored));
  socket.shutdown(tcp::socket::shutdown_send, ignored);
}

task<> shake_hands(Secure& stream, boost::system::error_code& error) {
  co_await stream.async_handshake(asio::ssl::stream_base::server, asio::redirect_error(asio::use_awaitable, error));
}

task<> say_goodbye(Secure& stream) {
  boost::system::error_code ignored;  // the client may be gone
  co_await stream.async_shutdown(asio::redirect_error(asio::use_awaitable, ignored));
}

task<> speak_secretly(tcp::socket socket, std::string peer, const Serving& serving) {
  const auto& limits = serving.limits;
  bool is_tls = false;
  boost::system::error_code error;
  if (!co_await base::finished_within(serving.timeline, limits.request_within, look_at_first(socket, is_tls, error)) ||
      error)
    co_return;
  if (!is_tls) {
    co_await base::finished_within(serving.timeline, limits.request_within, say_https(socket));
    co_return;
  }
  Secure stream(std::move(socket), *serving.tls);
  if (!co_await base::finished_within(serving.timeline, limits.request_within, shake_hands(stream, error)) || error)
    co_return;
  Connection<Secure> connection(std::move(stream), std::move(peer), serving);
  co_await connection.speak();
  constexpr auto goodbye_within = std::chrono::seconds(1);
  if (!connection.is_feed())
    co_await base::finished_within(serving.timeline, goodbye_within, say_goodbye(connection.stream()));
}

}  // namespace

task<> speak(tcp::socket socket, const Serving& serving) {
  boost::system::error_code error;
  socket.set_option(tcp::no_delay(true), error);
  const auto remote = socket.remote_endpoint(error);
  std::string peer = error ? "" : remote.address().to_string();
  if (serving.tls == nullptr)
    co_await speak_plainly(std::move(socket), std::move(peer), serving);
  else
    co_await speak_secretly(std::move(socket), std::move(peer), serving);
}

}  // namespace eyelevel::service::http
