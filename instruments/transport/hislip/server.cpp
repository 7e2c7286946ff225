// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/hislip/server.hpp"

#include <fmt/format.h>

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <algorithm>
#include <list>
#include <optional>

#include "instruments/transport/detail/bell.hpp"
#include "instruments/transport/detail/cancellation.hpp"
#include "instruments/transport/error.hpp"
#include "instruments/transport/hislip/conversation.hpp"
#include "instruments/transport/resource_name.hpp"

namespace eyelevel::transport::hislip {
namespace asio = boost::asio;
using asio::ip::tcp;
namespace {

std::string lower(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; });
  return text;
}

void reject(Channel& channel, FatalError code, std::string_view text) {
  channel.send_last({MessageType::fatal_error, static_cast<std::uint8_t>(code)}, text);
  channel.close();
}

}  // namespace

struct HislipServer::State : std::enable_shared_from_this<HislipServer::State> {
  State(const asio::any_io_executor& executor, base::Timeline& clock, const Listen& wanted)
      : acceptor(executor), timeline(clock), listen(wanted), client_gone(executor) {}

  tcp::acceptor acceptor;
  base::Timeline& timeline;
  Devices devices;
  Listen listen;
  std::string address;
  std::uint16_t port = 0;
  std::list<Channel> strangers;  // connections whose first message is still to come
  std::map<std::uint16_t, std::shared_ptr<Conversation>> sessions;
  std::uint16_t last_session = 0;
  detail::Bell client_gone;
  std::shared_ptr<const Security> security;

  void open();
  void greet(tcp::socket socket);
  std::shared_ptr<Device> find(const std::string& sub_address) const;
  static task<> accept(std::shared_ptr<State> self);
  static task<> first_message(std::shared_ptr<State> self, std::list<Channel>::iterator place);
  task<> initialise(const Header& header, Channel& channel);
  task<> initialise_async(const Header& header, Channel& channel);
};

void HislipServer::State::open() {
  if (listen.security) {
    security = std::make_shared<const Security>(*listen.security);
    security->begin();  // whether it can be used is told now
  }
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

std::shared_ptr<Device> HislipServer::State::find(const std::string& sub_address) const {
  const std::string wanted = lower(sub_address);
  auto at = devices.find(wanted);
  if (at == devices.end() && wanted.empty()) at = devices.find("hislip0");
  if (at == devices.end() && wanted == "hislip0") at = devices.find("");
  if (at == devices.end() && sub_address.empty() && devices.size() == 1) at = devices.begin();
  return at == devices.end() ? nullptr : at->second;
}

void HislipServer::State::greet(tcp::socket socket) {
  const auto executor = socket.get_executor();
  strangers.emplace_back(std::move(socket));
  const auto place = std::prev(strangers.end());
  if (place->prepare()) {
    strangers.erase(place);
    return;
  }
  // Two connections for each client, and some for those who only look.
  if (strangers.size() > 2 * listen.most_clients) {
    reject(*place, FatalError::too_many_clients, "too many connections say nothing");
    strangers.erase(place);
    return;
  }
  asio::co_spawn(executor, first_message(shared_from_this(), place),
                 [self = shared_from_this(), place](const std::exception_ptr& error) {
                   self->strangers.erase(place);
                   if (error && !detail::is_cancellation(error)) std::rethrow_exception(error);
                 });
}

// Which of the two connections this is shows its first message (6.1).
task<> HislipServer::State::first_message(std::shared_ptr<State> self, std::list<Channel>::iterator place) {
  Channel& channel = *place;
  Header header;
  if (co_await channel.next(header)) {
    if (!channel.fault().empty()) reject(channel, FatalError::bad_header, channel.fault());
    co_return;
  }
  const auto which = header.type == MessageType::async_initialize ? Connection::asynchronous : Connection::synchronous;
  if (const auto fault = fault_of(header, which, Sender::client); !fault.empty()) {
    reject(channel, FatalError::bad_header, fault);
  } else if (header.type == MessageType::initialize) {
    co_await self->initialise(header, channel);
  } else if (header.type == MessageType::async_initialize) {
    co_await self->initialise_async(header, channel);
  } else {
    reject(channel, FatalError::not_both_channels, "Initialize is still to come");
  }
}

task<> HislipServer::State::initialise(const Header& header, Channel& channel) {
  std::string sub_address;
  if (co_await channel.read_short_payload(sub_address)) co_return;
  const auto version = std::min(version_in(header.parameter), version_2_0);
  auto device = find(sub_address);
  if (version < version_1_0) {
    reject(channel, FatalError::invalid_initialisation, "versions 1.0 and 2.0 are served");
  } else if (security && security->mandatory && version < version_2_0) {
    reject(channel, FatalError::no_secure_connection, "only encrypted connections are served, which begin with 2.0");
  } else if (!device) {
    reject(channel, FatalError::invalid_initialisation, "there is no device of this sub-address");
  } else if (sessions.size() >= std::min<std::size_t>(listen.most_clients, 0xFFFF)) {
    reject(channel, FatalError::too_many_clients, fmt::format("{} clients are served", sessions.size()));
  } else {
    if (!device->greets()) {
      Header unheard;
      co_await channel.next(unheard);  // whatever it is, or that the client has gone
      co_return;
    }
    while (sessions.contains(++last_session)) {
    }
    const std::uint16_t session = last_session;
    unsigned flags = listen.prefer_overlapped ? initialize_flags::prefer_overlapped : 0U;
    if (security && security->mandatory)
      flags |= unsigned{initialize_flags::encryption_mandatory} | initialize_flags::initial_encryption;
    const Header answer{MessageType::initialize_response, static_cast<std::uint8_t>(flags),
                        initialize_response_parameter(version, session)};
    if (co_await channel.send(answer)) co_return;
    auto conversation = std::make_shared<Conversation>(
        timeline, std::move(device),
        Conversation::Settings{listen.most_message_bytes, listen.prefer_overlapped, security}, std::move(channel),
        [self = shared_from_this(), session] {
          self->sessions.erase(session);
          self->client_gone.ring();
        });
    sessions.emplace(session, conversation);
    conversation->start();
  }
}

task<> HislipServer::State::initialise_async(const Header& header, Channel& channel) {
  const auto at = header.parameter <= 0xFFFF ? sessions.find(session_in(header.parameter)) : sessions.end();
  if (at == sessions.end() || at->second->is_attached()) {
    reject(channel, FatalError::invalid_initialisation, "there is no session of this number that waits for it");
    co_return;
  }
  const auto conversation = at->second;
  static_assert(vendor_id.size() == 2);
  const Header answer{MessageType::async_initialize_response, security ? secure_capable : std::uint8_t{0},
                      initialize_parameter(0, vendor_id)};
  // Attached first: what comes on the other connection meanwhile is in order.
  if (co_await channel.send(answer)) co_return;
  conversation->attach(std::move(channel));
}

task<> HislipServer::State::accept(std::shared_ptr<State> self) {
  while (self->acceptor.is_open()) {
    auto [error, socket] = co_await self->acceptor.async_accept(asio::as_tuple(asio::use_awaitable));
    if (error == asio::error::operation_aborted) co_return;
    if (!error) {
      self->greet(std::move(socket));
    } else if (!self->sessions.empty()) {
      // No descriptors or no memory: asking again at once would only turn the loop. Room comes when a client goes.
      co_await self->client_gone.wait();
    }
  }
}

HislipServer::HislipServer(const asio::any_io_executor& executor, base::Timeline& timeline, Devices devices,
                           const Listen& listen)
    : state_(std::make_shared<State>(executor, timeline, listen)) {
  for (auto& [name, device] : devices) state_->devices.emplace(lower(name), std::move(device));
  state_->open();
  asio::co_spawn(executor, State::accept(state_), [](const std::exception_ptr& error) {
    if (error && !detail::is_cancellation(error)) std::rethrow_exception(error);
  });
}

HislipServer::~HislipServer() { stop(); }

std::uint16_t HislipServer::port() const { return state_->port; }

std::string HislipServer::resource_name(std::string_view sub_address) const {
  ResourceName name;
  name.carrier = Carrier::hislip;
  name.host = state_->address;
  name.port = state_->port;
  name.device = lower(std::string(sub_address));
  return name.canonical();
}

std::size_t HislipServer::clients() const { return state_->sessions.size(); }

void HislipServer::stop() noexcept {
  boost::system::error_code closed;  // nothing can be done about a failing close
  state_->acceptor.close(closed);
  state_->client_gone.ring();
  for (Channel& stranger : state_->strangers) stranger.close();
  while (!state_->sessions.empty()) {
    const auto conversation = state_->sessions.begin()->second;
    conversation->end();  // it takes itself out
  }
}

}  // namespace eyelevel::transport::hislip
