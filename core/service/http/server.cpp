// SPDX-License-Identifier: Apache-2.0
#include "core/service/http/server.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/http.hpp>
#include <boost/beast/websocket.hpp>
#include <list>
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

tcp::endpoint endpoint_of(const std::string& listen) {
  const auto refuse = [&](std::string_view why) {
    return base::Error(base::ErrorCode::bad_input, fmt::format("--listen {}: {}", listen, why),
                       "an address and a port, as 127.0.0.1:8080 or [::1]:8080");
  };
  const auto colon = listen.rfind(':');
  if (colon == std::string::npos) throw refuse("there is no port in it");
  std::string host = listen.substr(0, colon);
  if (host.size() > 2 && host.front() == '[' && host.back() == ']') host = host.substr(1, host.size() - 2);
  const std::string port = listen.substr(colon + 1);
  const bool is_number = !port.empty() && port.size() <= 5 &&
                         std::all_of(port.begin(), port.end(), [](char c) { return c >= '0' && c <= '9'; });
  if (!is_number || std::stoi(port) > 65535) throw refuse("its port is no number from 0 to 65535");
  boost::system::error_code error;
  const auto address = asio::ip::make_address(host == "localhost" ? "127.0.0.1" : host, error);
  if (error) throw refuse("its address is no IP address");
  return {address, static_cast<std::uint16_t>(std::stoi(port))};
}

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

class WebSocketOutlet final : public Outlet {
 public:
  WebSocketOutlet(websocket::stream<tcp::socket>& stream, base::Timeline& timeline, base::Duration within)
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
  static task<> send(websocket::stream<tcp::socket>& stream, const std::string& message) {
    co_await stream.async_write(asio::buffer(message), asio::use_awaitable);
  }
  task<> write(std::string message) {
    const bool in_time = co_await base::finished_within(timeline_, within_, send(stream_, message));
    if (!in_time) throw base::Error(base::ErrorCode::time_out, "the viewer takes nothing any more");
  }

  websocket::stream<tcp::socket>& stream_;
  base::Timeline& timeline_;
  base::Duration within_;
};

}  // namespace

struct Server::State : std::enable_shared_from_this<State> {
  State(const asio::any_io_executor& executor, base::Timeline& time, Handlers handle, const Limits& limit)
      : acceptor(executor), timeline(time), handlers(std::move(handle)), limits(limit) {}

  tcp::acceptor acceptor;
  base::Timeline& timeline;
  Handlers handlers;
  Limits limits;
  std::list<asio::cancellation_signal> open;  // one for each connection
  base::Gong closed;

  task<> accept();
  void begin(tcp::socket socket);
  task<> connection(tcp::socket socket);
  task<> next_request(tcp::socket& socket, beast::flat_buffer& buffer, const std::string& peer, bool& keep);
  task<> become_feed(tcp::socket socket, Raw raw, std::function<task<>(Outlet&)> feed);
  task<> send(tcp::socket& socket, bhttp::response<bhttp::string_body> response);
};

namespace {

task<> read_first(tcp::socket& socket, beast::flat_buffer& buffer, boost::system::error_code& error) {
  if (buffer.size() > 0) co_return;
  const auto got =
      co_await socket.async_read_some(buffer.prepare(4096), asio::redirect_error(asio::use_awaitable, error));
  buffer.commit(got);
}

task<> read_request(tcp::socket& socket, beast::flat_buffer& buffer, bhttp::request_parser<bhttp::string_body>& parser,
                    boost::system::error_code& error) {
  co_await bhttp::async_read(socket, buffer, parser, asio::redirect_error(asio::use_awaitable, error));
}

task<> write_response(tcp::socket& socket, bhttp::response<bhttp::string_body>& response) {
  co_await bhttp::async_write(socket, response, asio::use_awaitable);
}

// Reads until the client is gone.
task<> drained(websocket::stream<tcp::socket>& stream) {
  beast::flat_buffer buffer;
  for (;;) {
    co_await stream.async_read(buffer, asio::use_awaitable);
    buffer.clear();
  }
}

}  // namespace

task<> Server::State::send(tcp::socket& socket, bhttp::response<bhttp::string_body> response) {
  const bool in_time = co_await base::finished_within(timeline, limits.send_within, write_response(socket, response));
  if (!in_time) throw base::Error(base::ErrorCode::time_out, "the client takes nothing any more");
}

task<> Server::State::next_request(tcp::socket& socket, beast::flat_buffer& buffer, const std::string& peer,
                                   bool& keep) {
  boost::system::error_code error;
  keep = false;
  if (!co_await base::finished_within(timeline, limits.idle, read_first(socket, buffer, error)) || error) co_return;
  bhttp::request_parser<bhttp::string_body> parser;
  parser.header_limit(static_cast<std::uint32_t>(limits.header_bytes));
  parser.body_limit(limits.body_bytes);
  const bool in_time =
      co_await base::finished_within(timeline, limits.request_within, read_request(socket, buffer, parser, error));
  if (!in_time) error = bhttp::error::partial_message;
  if (error == bhttp::error::end_of_stream) co_return;
  if (error) {
    co_await send(socket, raw_of(unreadable(error), parser.get(), false));
    co_return;
  }
  Raw raw = parser.release();
  const auto request = request_of(raw, peer);
  if (!request) {
    co_await send(socket, raw_of(answer_to(Problem(400, "the target of the request is none")), raw, false));
    co_return;
  }
  if (websocket::is_upgrade(raw)) {
    Response refused;
    if (auto feed = handlers.feed(*request, refused)) {
      co_await become_feed(std::move(socket), std::move(raw), std::move(feed));
      co_return;
    }
    co_await send(socket, raw_of(std::move(refused), raw, false));
    co_return;
  }
  keep = raw.keep_alive();
  Response response = co_await handlers.answer(*request);
  co_await send(socket, raw_of(std::move(response), raw, keep));
}

// The feed writes until the client is gone, which the reading side learns.
task<> Server::State::become_feed(tcp::socket socket, Raw raw, std::function<task<>(Outlet&)> feed) {
  websocket::stream<tcp::socket> stream(std::move(socket));
  auto timeout = websocket::stream_base::timeout::suggested(beast::role_type::server);
  timeout.idle_timeout = limits.idle;
  timeout.keep_alive_pings = true;
  stream.set_option(timeout);
  stream.read_message_max(4096);
  co_await stream.async_accept(raw, asio::use_awaitable);
  WebSocketOutlet outlet(stream, timeline, limits.send_within);
  asio::cancellation_signal gone;
  base::Gong ended;
  bool is_writing = true;
  asio::co_spawn(co_await asio::this_coro::executor, feed(outlet),
                 asio::bind_cancellation_slot(gone.slot(), [&](const std::exception_ptr&) {
                   is_writing = false;  // its error is that the client is gone
                   ended.strike();
                   boost::system::error_code ignored;  // the reading side ends with the socket
                   stream.next_layer().close(ignored);
                 }));
  try {
    co_await drained(stream);
  } catch (const boost::system::system_error&) {
    gone.emit(asio::cancellation_type::terminal);  // also when it is us who are stopped
  }
  co_await asio::this_coro::reset_cancellation_state(asio::disable_cancellation());
  while (is_writing) co_await ended.wait();
}

task<> Server::State::connection(tcp::socket socket) {
  boost::system::error_code error;
  socket.set_option(tcp::no_delay(true), error);
  const auto remote = socket.remote_endpoint(error);
  const std::string peer = error ? "" : remote.address().to_string();
  beast::flat_buffer buffer;
  for (bool keep = true; keep;) co_await next_request(socket, buffer, peer, keep);
  socket.shutdown(tcp::socket::shutdown_send, error);
}

void Server::State::begin(tcp::socket socket) {
  const auto me = open.emplace(open.end());
  auto self = shared_from_this();
  asio::co_spawn(acceptor.get_executor(), connection(std::move(socket)),
                 asio::bind_cancellation_slot(me->slot(), [self, me](const std::exception_ptr&) {
                   self->open.erase(me);  // what it threw is that the client is gone
                   self->closed.strike();
                 }));
}

task<> Server::State::accept() {
  for (;;) {
    while (open.size() >= limits.connections) co_await closed.wait();
    boost::system::error_code error;
    tcp::socket socket = co_await acceptor.async_accept(asio::redirect_error(asio::use_awaitable, error));
    if (error == asio::error::operation_aborted) co_return;
    if (!error) {
      begin(std::move(socket));
      continue;
    }
    // No file number is left, or the client was gone before it was taken: the next one may do.
    co_await timeline.sleep(std::chrono::milliseconds(50));
  }
}

Server::Server(const asio::any_io_executor& executor, base::Timeline& timeline, const std::string& listen,
               Handlers handlers, const Limits& limits)
    : state_(std::make_shared<State>(executor, timeline, std::move(handlers), limits)) {
  const auto at = endpoint_of(listen);
  try {
    state_->acceptor.open(at.protocol());
    state_->acceptor.set_option(tcp::acceptor::reuse_address(true));
    state_->acceptor.bind(at);
    state_->acceptor.listen();
  } catch (const boost::system::system_error& error) {
    throw base::Error(base::ErrorCode::bad_input, fmt::format("--listen {}: {}", listen, error.code().message()),
                      "name another address or port; port 0 takes a free one");
  }
}

Server::~Server() = default;

std::string Server::url() const {
  const auto at = state_->acceptor.local_endpoint();
  return at.address().is_v6() ? fmt::format("http://[{}]:{}", at.address().to_string(), at.port())
                              : fmt::format("http://{}:{}", at.address().to_string(), at.port());
}

bool Server::is_loopback() const { return state_->acceptor.local_endpoint().address().is_loopback(); }

task<> Server::serve() {
  std::exception_ptr failure;
  try {
    co_await state_->accept();
  } catch (...) {
    failure = std::current_exception();
  }
  co_await asio::this_coro::reset_cancellation_state(asio::disable_cancellation());
  boost::system::error_code ignored;  // nothing is left to be told
  state_->acceptor.close(ignored);
  for (auto& one : state_->open) one.emit(asio::cancellation_type::terminal);
  while (!state_->open.empty()) co_await state_->closed.wait();
  if (failure) std::rethrow_exception(failure);
}

}  // namespace eyelevel::service::http
