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
#include <boost/asio/write.hpp>

#include <list>
#include <vector>

#include "instruments/transport/detail/bell.hpp"
#include "instruments/transport/error.hpp"
#include "instruments/transport/resource_name.hpp"
#include "instruments/transport/socket/codec.hpp"

namespace eyelevel::transport::socket {
namespace asio = boost::asio;
using asio::ip::tcp;
namespace {

constexpr std::size_t chunk_bytes = std::size_t{64} << 10U;

bool is_cancellation(const std::exception_ptr& error) {
  try {
    std::rethrow_exception(error);
  } catch (const boost::system::system_error& e) {
    return e.code() == asio::error::operation_aborted;
  } catch (...) {
    return false;
  }
}

// One client. Its coroutine and what it executes own it.
class Conversation : public std::enable_shared_from_this<Conversation> {
 public:
  Conversation(tcp::socket socket, std::shared_ptr<Device> device, std::size_t most)
      : socket_(std::move(socket)),
        device_(std::move(device)),
        most_(most),
        framer_(Direction::program, most),
        chunk_(chunk_bytes) {}

  task<> run() {
    boost::system::error_code ignored;  // only speed depends on it
    socket_.set_option(tcp::no_delay(true), ignored);
    while (co_await next_message()) {
      if (!co_await execute()) co_return;
      if (!co_await answer()) co_return;
    }
  }

 private:
  // The next program message into message_; false when the client is gone or sends what can never end.
  task<bool> next_message() {
    for (;;) {
      const auto found = framer_.scan(inbox_);
      if (!found.fault.empty()) co_return false;
      if (found.complete) {
        message_.assign(inbox_, 0, found.message_bytes);
        inbox_.erase(0, found.consumed);
        framer_.reset();
        co_return true;
      }
      boost::system::error_code gone;
      const std::size_t count =
          co_await socket_.async_read_some(asio::buffer(chunk_), asio::redirect_error(asio::use_awaitable, gone));
      if (gone) co_return false;
      inbox_.append(chunk_.data(), count);
    }
  }

  // False: the client went away meanwhile and the execution was cancelled. Most messages are executed at once; only
  // when one takes its time is the socket watched for a client that closes.
  task<bool> execute() {
    reply_.reset();
    executed_ = false;
    asio::co_spawn(
        socket_.get_executor(), run_device(shared_from_this()),
        asio::bind_cancellation_slot(stop_.slot(), [self = shared_from_this()](const std::exception_ptr& error) {
          self->executed_ = true;
          if (self->watching_) self->socket_.cancel();
          // Anything but an end by cancellation is a defect of the device: it ends the loop's run() loudly.
          if (error && !is_cancellation(error)) std::rethrow_exception(error);
        }));
    while (!executed_) {
      boost::system::error_code woken;
      watching_ = true;
      co_await socket_.async_wait(tcp::socket::wait_read, asio::redirect_error(asio::use_awaitable, woken));
      watching_ = false;
      if (executed_) break;
      if (woken || !take_ahead()) {
        stop_.emit(asio::cancellation_type::terminal);
        co_return false;
      }
    }
    co_return true;
  }

  static task<> run_device(std::shared_ptr<Conversation> self) {
    co_await self->device_->execute(self->message_, self->reply_);
  }

  // Further messages that came while one is executed; false when the client has closed.
  bool take_ahead() {
    boost::system::error_code gone;
    if (socket_.available(gone) == 0 || gone || inbox_.size() > most_) return false;
    const std::size_t count = socket_.read_some(asio::buffer(chunk_), gone);
    if (gone) return false;
    inbox_.append(chunk_.data(), count);
    return true;
  }

  task<bool> answer() {
    if (!reply_.bytes.empty()) {
      if (reply_.terminated && !reply_.close_after) reply_.bytes += '\n';
      boost::system::error_code gone;
      co_await asio::async_write(socket_, asio::buffer(reply_.bytes), asio::redirect_error(asio::use_awaitable, gone));
      if (gone) co_return false;
    }
    co_return !reply_.close_after;
  }

  tcp::socket socket_;
  std::shared_ptr<Device> device_;
  std::size_t most_;
  Framer framer_;
  std::vector<char> chunk_;
  std::string inbox_;
  std::string message_;
  Reply reply_;
  asio::cancellation_signal stop_;  // of what is executed
  bool executed_ = false;
  bool watching_ = false;
};

task<> run_conversation(std::shared_ptr<Conversation> conversation) { co_await conversation->run(); }

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
  auto conversation = std::make_shared<Conversation>(std::move(socket), device, listen.most_message_bytes);
  const auto place = stops.emplace(stops.end());
  asio::co_spawn(
      executor, run_conversation(std::move(conversation)),
      asio::bind_cancellation_slot(place->slot(), [self = shared_from_this(), place](const std::exception_ptr& e) {
        self->stops.erase(place);
        self->client_gone.ring();
        // Anything but an end by cancellation is a defect of the device: it ends the loop's run() loudly.
        if (e && !is_cancellation(e)) std::rethrow_exception(e);
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
    if (e && !is_cancellation(e)) std::rethrow_exception(e);
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
