// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/vxi11/listener.hpp"

#include <fmt/format.h>

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <list>

#include "instruments/transport/detail/bell.hpp"
#include "instruments/transport/detail/cancellation.hpp"
#include "instruments/transport/detail/line_conversation.hpp"
#include "instruments/transport/error.hpp"
#include "instruments/transport/vxi11/codec_rpc.hpp"

namespace eyelevel::transport::vxi11 {
namespace asio = boost::asio;
using asio::ip::tcp;

struct Listener::State : std::enable_shared_from_this<Listener::State> {
  State(const asio::any_io_executor& executor, Serve function, std::size_t most)
      : acceptor(executor), serve(std::move(function)), most_clients(most), client_gone(executor) {}

  tcp::acceptor acceptor;
  Serve serve;
  std::size_t most_clients;
  std::list<asio::cancellation_signal> stops;  // one for each client
  detail::Bell client_gone;

  void converse(tcp::socket socket) {
    const auto executor = socket.get_executor();
    const auto place = stops.emplace(stops.end());
    asio::co_spawn(
        executor, serve(std::move(socket)),
        asio::bind_cancellation_slot(place->slot(), [self = shared_from_this(), place](const std::exception_ptr& e) {
          self->stops.erase(place);
          self->client_gone.ring();
          // Anything but an end by cancellation is a defect: it ends the loop's run() loudly.
          if (e && !detail::is_cancellation(e)) std::rethrow_exception(e);
        }));
  }

  static task<> accept(std::shared_ptr<State> self) {
    while (self->acceptor.is_open()) {
      auto [error, socket] = co_await self->acceptor.async_accept(asio::as_tuple(asio::use_awaitable));
      if (error == asio::error::operation_aborted) co_return;
      if (!error && self->stops.size() < self->most_clients) {
        self->converse(std::move(socket));
      } else if (error && !self->stops.empty()) {
        // No descriptors or no memory: asking again at once would only turn the loop. Room comes when a client goes.
        co_await self->client_gone.wait();
      }
    }
  }
};

void fail_to_serve(const ListenOn& listen, const boost::system::error_code& error) {
  const std::string where = fmt::format("{} port {}", listen.address.to_string(), listen.port);
  std::string advice = "choose another port, or 0 for any free one";
  std::string why = error.message();
  if (error == asio::error::address_in_use && listen.port == portmapper_port) {
    why = "the port is held already, by this computer's own portmapper as a rule";
    advice = "stop it while you serve (systemctl stop rpcbind.socket rpcbind)";
  } else if (error == asio::error::access_denied) {
    why = "ports below 1024 are for privileged programs";
    advice = "run as root or give the program the capability cap_net_bind_service";
  }
  fail(base::ErrorCode::no_connection, where, fmt::format("cannot serve {} here: {}", listen.what, why), advice);
}

Listener::Listener(const asio::any_io_executor& executor, const ListenOn& listen, Serve serve)
    : state_(std::make_shared<State>(executor, std::move(serve), listen.most_clients)) {
  boost::system::error_code error;
  const tcp::endpoint endpoint(listen.address, listen.port);
  auto& acceptor = state_->acceptor;
  acceptor.open(endpoint.protocol(), error);
  if (!error) acceptor.set_option(tcp::acceptor::reuse_address(true), error);
  if (!error) acceptor.bind(endpoint, error);
  if (!error) acceptor.listen(asio::socket_base::max_listen_connections, error);
  if (error) fail_to_serve(listen, error);
  asio::co_spawn(executor, State::accept(state_), [](const std::exception_ptr& e) {
    if (e && !detail::is_cancellation(e)) std::rethrow_exception(e);
  });
}

Listener::~Listener() { stop(); }

std::uint16_t Listener::port() const {
  boost::system::error_code closed;
  return state_->acceptor.local_endpoint(closed).port();
}

std::size_t Listener::clients() const { return state_->stops.size(); }

void Listener::stop() noexcept {
  boost::system::error_code closed;  // nothing can be done about a failing close
  state_->acceptor.close(closed);
  state_->client_gone.ring();
  for (auto at = state_->stops.begin(); at != state_->stops.end();) (at++)->emit(asio::cancellation_type::terminal);
}

}  // namespace eyelevel::transport::vxi11
