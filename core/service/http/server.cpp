// SPDX-License-Identifier: Apache-2.0
#include "core/service/http/server.hpp"

#include <fmt/format.h>
#include <openssl/ssl.h>

#include <algorithm>
#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <list>
#include <utility>

#include "core/base/error.hpp"
#include "core/base/gong.hpp"
#include "core/service/http/connection.hpp"

namespace eyelevel::service::http {
namespace asio = boost::asio;
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

struct Open {
  asio::cancellation_signal stop;
  asio::ip::address peer;
};

}  // namespace

struct Server::State : std::enable_shared_from_this<State> {
  State(const asio::any_io_executor& executor, base::Timeline& time, Handlers handle, const Limits& limit)
      : acceptor(executor),
        serving{.timeline = time,
                .handlers = std::move(handle),
                .limits = limit,
                .tls = nullptr,
                .rate = Rate(limit.requests_burst, limit.requests_each_second)} {}

  tcp::acceptor acceptor;
  std::optional<asio::ssl::context> tls;
  Serving serving;
  std::list<Open> open;  // one for each connection
  base::Gong closed;

  void secure(const Tls& with);
  task<> accept();
  void begin(tcp::socket socket);
};

// TLS 1.2 and 1.3 only (RFC 8996 takes the older ones out of use).
void Server::State::secure(const Tls& with) {
  try {
    tls.emplace(asio::ssl::context::tls_server);
    tls->set_options(asio::ssl::context::default_workarounds | asio::ssl::context::no_tlsv1 |
                     asio::ssl::context::no_tlsv1_1 | asio::ssl::context::no_compression | SSL_OP_NO_RENEGOTIATION);
    tls->use_certificate_chain(asio::buffer(with.certificate_pem));
    tls->use_private_key(asio::buffer(with.key_pem), asio::ssl::context::pem);
  } catch (const boost::system::system_error& error) {
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("the certificate and its key cannot be used: {}", error.code().message()),
                      "both as PEM, the key without a password, and of that certificate");
  }
  serving.tls = &*tls;
}

void Server::State::begin(tcp::socket socket) {
  boost::system::error_code error;
  const auto peer = socket.remote_endpoint(error).address();
  const auto same = std::count_if(open.begin(), open.end(), [&](const Open& one) { return one.peer == peer; });
  if (error || static_cast<std::size_t>(same) >= serving.limits.connections_each_peer) return;
  const auto me = open.emplace(open.end());
  me->peer = peer;
  auto self = shared_from_this();
  asio::co_spawn(acceptor.get_executor(), speak(std::move(socket), serving),
                 asio::bind_cancellation_slot(me->stop.slot(), [self, me](const std::exception_ptr&) {
                   self->open.erase(me);  // what it threw is that the client is gone
                   self->closed.strike();
                 }));
}

task<> Server::State::accept() {
  for (;;) {
    while (open.size() >= serving.limits.connections) co_await closed.wait();
    boost::system::error_code error;
    tcp::socket socket = co_await acceptor.async_accept(asio::redirect_error(asio::use_awaitable, error));
    if (error == asio::error::operation_aborted) co_return;
    if (!error) {
      begin(std::move(socket));  // or closes it at once, when that address has enough
      continue;
    }
    // No file number is left, or the client was gone before it was taken: the next one may do.
    co_await serving.timeline.sleep(std::chrono::milliseconds(50));
  }
}

bool is_loopback(const std::string& listen) { return endpoint_of(listen).address().is_loopback(); }

Server::Server(const asio::any_io_executor& executor, base::Timeline& timeline, const std::string& listen,
               Handlers handlers, const Limits& limits, const std::optional<Tls>& tls)
    : state_(std::make_shared<State>(executor, timeline, std::move(handlers), limits)) {
  if (tls) state_->secure(*tls);
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
  const auto* scheme = state_->tls ? "https" : "http";
  return at.address().is_v6() ? fmt::format("{}://[{}]:{}", scheme, at.address().to_string(), at.port())
                              : fmt::format("{}://{}:{}", scheme, at.address().to_string(), at.port());
}

int Server::port() const { return state_->acceptor.local_endpoint().port(); }

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
  for (auto& one : state_->open) one.stop.emit(asio::cancellation_type::terminal);
  while (!state_->open.empty()) co_await state_->closed.wait();
  if (failure) std::rethrow_exception(failure);
}

}  // namespace eyelevel::service::http
