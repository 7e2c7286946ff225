// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/socket/server.hpp"

#include <fmt/format.h>

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <list>

#include "instruments/transport/detail/bell.hpp"
#include "instruments/transport/detail/line_conversation.hpp"
#include "instruments/transport/error.hpp"
#include "instruments/transport/resource_name.hpp"

namespace eyelevel::transport::socket {
namespace asio = boost::asio;
using asio::ip::tcp;
namespace {

using Conversation = detail::LineConversation<tcp::socket>;

}  // namespace

struct SocketServer::State : std::enable_shared_from_this<SocketServer::State> {
  State(const asio::any_io_executor& executor, std::shared_ptr<Device> served, const Listen& wanted)
      : acceptor(executor), device(std::move(served)), listen(wanted), client_gone(executor) {}

  tcp::acceptor acceptor;
  std::shared_ptr<Device> device;
  Listen listen;
  std::string address;
  std::uint16_t port = 0;
  std::list<asio::cancellation_signal> stops;  // one for each conversation
  detail::Bell client_gone;

  void open();
  void converse(tcp::socket socket);
  static task<> accept(std::shared_ptr<State> self);
};

void SocketServer::State::open() {
  const std::string where = fmt::format("{} port {}", listen.address, listen.port);
  boost::system::error_code error;
  const auto parsed = asio::ip::make_address(listen.address, error);
  if (error) fail_with(error, true, where, "this is no address of this computer");
  const tcp::endpoint endpoint(parsed, listen.port);
  acceptor.open(endpoint.protocol(), error);
  if (!error) acceptor.set_option(tcp::acceptor::reuse_address(true), error);
  if (!error) acceptor.bind(endpoint, error);
  if (!error) acceptor.listen(asio::socket_base::max_listen_connections, error);
  if (error)
    fail(base::ErrorCode::no_connection, where, "cannot serve here: " + error.message(),
         "choose another port, or 0 for any free one");
  port = acceptor.local_endpoint().port();
  address = parsed.is_v6() ? fmt::format("[{}]", listen.address) : listen.address;
}

void SocketServer::State::converse(tcp::socket socket) {
  const auto executor = socket.get_executor();
  boost::system::error_code ignored;  // only speed depends on it
  socket.set_option(tcp::no_delay(true), ignored);
  auto conversation = std::make_shared<Conversation>(std::move(socket), device, listen.most_message_bytes);
  const auto place = stops.emplace(stops.end());
  asio::co_spawn(
      executor, Conversation::run(std::move(conversation)),
      asio::bind_cancellation_slot(place->slot(), [self = shared_from_this(), place](const std::exception_ptr& e) {
        self->stops.erase(place);
        self->client_gone.ring();
        // Anything but an end by cancellation is a defect of the device: it ends the loop's run() loudly.
        if (e && !detail::is_cancellation(e)) std::rethrow_exception(e);
      }));
}

task<> SocketServer::State::accept(std::shared_ptr<State> self) {
  while (self->acceptor.is_open()) {
    auto [error, socket] = co_await self->acceptor.async_accept(asio::as_tuple(asio::use_awaitable));
    if (error == asio::error::operation_aborted) co_return;
    if (!error) {
      self->converse(std::move(socket));
    } else if (!self->stops.empty()) {
      // No descriptors or no memory: asking again at once would only turn the loop. Room comes when a client goes.
      co_await self->client_gone.wait();
    }
  }
}

SocketServer::SocketServer(const asio::any_io_executor& executor, std::shared_ptr<Device> device, const Listen& listen)
    : state_(std::make_shared<State>(executor, std::move(device), listen)) {
  state_->open();
  asio::co_spawn(executor, State::accept(state_), [](const std::exception_ptr& e) {
    if (e && !detail::is_cancellation(e)) std::rethrow_exception(e);
  });
}

SocketServer::~SocketServer() { stop(); }

std::uint16_t SocketServer::port() const { return state_->port; }

std::string SocketServer::resource_name() const {
  ResourceName name;
  name.carrier = Carrier::socket;
  name.host = state_->address;
  name.port = state_->port;
  return name.canonical();
}

std::size_t SocketServer::clients() const { return state_->stops.size(); }

void SocketServer::stop() noexcept {
  boost::system::error_code closed;  // nothing can be done about a failing close
  state_->acceptor.close(closed);
  state_->client_gone.ring();
  for (auto at = state_->stops.begin(); at != state_->stops.end();) (at++)->emit(asio::cancellation_type::terminal);
}

}  // namespace eyelevel::transport::socket
