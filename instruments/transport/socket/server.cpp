// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/socket/server.hpp"

#include <fmt/format.h>

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>

#include <list>
#include <string>
#include <utility>

#include "core/base/gong.hpp"
#include "instruments/transport/detail/cancellation.hpp"
#include "instruments/transport/detail/line_conversation.hpp"
#include "instruments/transport/error.hpp"
#include "instruments/transport/resource_name.hpp"

namespace eyelevel::transport::socket {
namespace asio = boost::asio;
using asio::ip::tcp;
namespace {

using Conversation = detail::LineConversation<tcp::socket>;

void listen_at(tcp::acceptor& acceptor, const tcp::endpoint& endpoint) {
  boost::system::error_code error;
  acceptor.open(endpoint.protocol(), error);
  if (!error) acceptor.set_option(tcp::acceptor::reuse_address(true), error);
  if (!error) acceptor.bind(endpoint, error);
  if (!error) acceptor.listen(asio::socket_base::max_listen_connections, error);
  if (error)
    fail(base::ErrorCode::no_connection, fmt::format("{} port {}", endpoint.address().to_string(), endpoint.port()),
         "cannot serve here: " + error.message(), "choose another port, or 0 for any free one");
}

// A control connection: one coroutine reads, one watches the device, one writes what the two have to tell.
struct Control : std::enable_shared_from_this<Control> {
  explicit Control(tcp::socket accepted) : socket(std::move(accepted)) {}

  tcp::socket socket;
  std::string outbox;
  base::Gong to_tell;
  std::list<asio::cancellation_signal> stops;  // of those beside the reader

  // Beside the reader, and no longer than it.
  void also(task<> work) {
    const auto place = stops.emplace(stops.end());
    asio::co_spawn(
        socket.get_executor(), std::move(work),
        asio::bind_cancellation_slot(place->slot(), [self = shared_from_this(), place](const std::exception_ptr& e) {
          self->stops.erase(place);
          if (e && !detail::is_cancellation(e)) std::rethrow_exception(e);
        }));
  }

  struct End {
    Control& control;
    ~End() {
      for (auto at = control.stops.begin(); at != control.stops.end();) (at++)->emit(asio::cancellation_type::terminal);
    }
  };

  static task<> tell(std::shared_ptr<Control> self) {
    for (;;) {
      while (self->outbox.empty()) co_await self->to_tell.wait();
      const std::string line = std::exchange(self->outbox, {});
      boost::system::error_code gone;
      co_await asio::async_write(self->socket, asio::buffer(line), asio::redirect_error(asio::use_awaitable, gone));
      if (gone) co_return;  // the reader notices, too
    }
  }
};

}  // namespace

struct SocketServer::State : std::enable_shared_from_this<SocketServer::State> {
  State(const asio::any_io_executor& executor, std::shared_ptr<Device> served, const Listen& wanted)
      : data(executor), control(executor), device(std::move(served)), listen(wanted) {}

  tcp::acceptor data, control;
  std::shared_ptr<Device> device;
  Listen listen;
  std::string address;
  std::uint16_t port = 0, control_port = 0;
  std::list<std::weak_ptr<Conversation>> conversations;
  std::list<asio::cancellation_signal> stops;  // one for each conversation, of either kind
  base::Gong client_gone;

  using Take = void (State::*)(tcp::socket);

  void open();
  void own(const asio::any_io_executor& executor, task<> conversation);
  void converse(tcp::socket socket);
  void control_by(tcp::socket socket);
  void clear();
  static task<> accept(std::shared_ptr<State> self, tcp::acceptor& acceptor, Take take);
  static task<> obey(std::shared_ptr<State> self, std::shared_ptr<Control> control);
  static task<> watch(std::shared_ptr<State> self, std::shared_ptr<Control> control);
};

void SocketServer::State::open() {
  boost::system::error_code error;
  const auto parsed = asio::ip::make_address(listen.address, error);
  if (error) fail_with(error, true, listen.address, "this is no address of this computer");
  listen_at(data, {parsed, listen.port});
  listen_at(control, {parsed, 0});
  port = data.local_endpoint().port();
  control_port = control.local_endpoint().port();
  device->control_is_at(control_port);
  address = parsed.is_v6() ? fmt::format("[{}]", listen.address) : listen.address;
}

// Runs a conversation until it ends or the server stops.
void SocketServer::State::own(const asio::any_io_executor& executor, task<> conversation) {
  const auto place = stops.emplace(stops.end());
  asio::co_spawn(
      executor, std::move(conversation),
      asio::bind_cancellation_slot(place->slot(), [self = shared_from_this(), place](const std::exception_ptr& e) {
        self->stops.erase(place);
        self->client_gone.strike();
        // Anything but an end by cancellation is a defect of the device: it ends the loop's run() loudly.
        if (e && !detail::is_cancellation(e)) std::rethrow_exception(e);
      }));
}

void SocketServer::State::converse(tcp::socket socket) {
  const auto executor = socket.get_executor();
  boost::system::error_code ignored;  // only speed depends on it
  socket.set_option(tcp::no_delay(true), ignored);
  auto conversation = std::make_shared<Conversation>(std::move(socket), device, listen.most_message_bytes);
  conversations.remove_if([](const auto& one) { return one.expired(); });
  conversations.push_back(conversation);
  own(executor, Conversation::run(std::move(conversation)));
}

void SocketServer::State::control_by(tcp::socket socket) {
  const auto executor = socket.get_executor();
  own(executor, obey(shared_from_this(), std::make_shared<Control>(std::move(socket))));
}

// The control connection belongs to the instrument, not to one of its clients.
void SocketServer::State::clear() {
  for (const auto& one : conversations)
    if (const auto conversation = one.lock()) conversation->clear();
  device->clear();
}

task<> SocketServer::State::obey(std::shared_ptr<State> self, std::shared_ptr<Control> control) {
  const Control::End end{*control};
  control->also(watch(self, control));
  control->also(Control::tell(control));
  std::string inbox;
  boost::system::error_code gone;
  for (;;) {
    constexpr std::size_t most = 64;  // a line that is longer is no command
    const std::size_t line = co_await asio::async_read_until(control->socket, asio::dynamic_buffer(inbox, most), '\n',
                                                             asio::redirect_error(asio::use_awaitable, gone));
    if (gone) co_return;
    const bool is_clear = inbox.compare(0, line, "DCL\n") == 0 || inbox.compare(0, line, "DCL\r\n") == 0;
    inbox.erase(0, line);
    if (!is_clear) continue;
    self->clear();
    control->outbox += "DCL\n";
    control->to_tell.strike();
  }
}

task<> SocketServer::State::watch(std::shared_ptr<State> self, std::shared_ptr<Control> control) {
  for (std::uint64_t seen = self->device->service_requests();;) {
    seen = co_await self->device->service_requested(seen);
    control->outbox += fmt::format("SRQ +{}\n", self->device->status_byte(false));
    control->to_tell.strike();
  }
}

task<> SocketServer::State::accept(std::shared_ptr<State> self, tcp::acceptor& acceptor, Take take) {
  while (acceptor.is_open()) {
    auto [error, socket] = co_await acceptor.async_accept(asio::as_tuple(asio::use_awaitable));
    if (error == asio::error::operation_aborted) co_return;
    if (!error) {
      (self.get()->*take)(std::move(socket));
    } else if (!self->stops.empty()) {
      // No descriptors or no memory: asking again at once would only turn the loop. Room comes when a client goes.
      co_await self->client_gone.wait();
    }
  }
}

SocketServer::SocketServer(const asio::any_io_executor& executor, std::shared_ptr<Device> device, const Listen& listen)
    : state_(std::make_shared<State>(executor, std::move(device), listen)) {
  state_->open();
  const auto loudly = [](const std::exception_ptr& e) {
    if (e && !detail::is_cancellation(e)) std::rethrow_exception(e);
  };
  asio::co_spawn(executor, State::accept(state_, state_->data, &State::converse), loudly);
  asio::co_spawn(executor, State::accept(state_, state_->control, &State::control_by), loudly);
}

SocketServer::~SocketServer() { stop(); }

std::uint16_t SocketServer::port() const { return state_->port; }

std::uint16_t SocketServer::control_port() const { return state_->control_port; }

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
  state_->data.close(closed);
  state_->control.close(closed);
  state_->client_gone.strike();
  for (auto at = state_->stops.begin(); at != state_->stops.end();) (at++)->emit(asio::cancellation_type::terminal);
}

}  // namespace eyelevel::transport::socket
