// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/vxi11/portmapper.hpp"

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/ip/udp.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/system/system_error.hpp>

#include <array>
#include <optional>

#include "instruments/transport/detail/cancellation.hpp"
#include "instruments/transport/detail/line_conversation.hpp"
#include "instruments/transport/vxi11/codec_xdr.hpp"
#include "instruments/transport/vxi11/record_stream.hpp"

namespace eyelevel::transport::vxi11 {
namespace asio = boost::asio;
using asio::ip::tcp;
using asio::ip::udp;
namespace {

constexpr std::size_t most_call_bytes = 4096;
constexpr int most_tries = 20;  // for a port that is free on TCP and on UDP

std::uint32_t port_of(const Mapping& asked, const std::vector<Mapping>& mappings) {
  // The version is not looked at (RFC 1833, 3.2 leaves it to the caller to find a mismatch there).
  for (const auto& mapping : mappings)
    if (mapping.program == asked.program && mapping.protocol == asked.protocol) return mapping.port;
  return 0;
}

}  // namespace

bool answer_portmapper(std::string_view record, const std::vector<Mapping>& mappings, std::string& reply) {
  const auto found = read_call(record);
  if (!found.is_call) return false;
  const auto xid = found.call.xid;
  if (!found.right_rpc) {
    append_denied(reply, xid);
  } else if (found.call.program != portmapper_program) {
    append_reply(reply, xid, AcceptState::program_unavailable);
  } else if (found.call.version != portmapper_version) {
    append_version_mismatch(reply, xid, portmapper_version, portmapper_version);
  } else {
    Mapping asked;
    XdrWriter writer(reply);
    switch (static_cast<PortmapperProcedure>(found.call.procedure)) {
      case PortmapperProcedure::null: append_reply(reply, xid); break;
      case PortmapperProcedure::set:
      case PortmapperProcedure::unset:
        append_reply(reply, xid);
        writer.boolean(false);
        break;
      case PortmapperProcedure::get_port:
        if (!read_mapping(found.arguments, asked)) {
          append_reply(reply, xid, AcceptState::garbage_arguments);
          break;
        }
        append_reply(reply, xid);
        writer.u32(port_of(asked, mappings));
        break;
      case PortmapperProcedure::dump:
        append_reply(reply, xid);
        for (const auto& mapping : mappings) {
          writer.boolean(true);
          append_mapping(reply, mapping);
        }
        writer.boolean(false);
        break;
      case PortmapperProcedure::call_it: return false;
      default: append_reply(reply, xid, AcceptState::procedure_unavailable);
    }
  }
  return true;
}

struct Portmapper::State {
  State(const asio::any_io_executor& executor, std::vector<Mapping> known)
      : mappings(std::move(known)), datagrams(executor) {}

  std::vector<Mapping> mappings;
  udp::socket datagrams;

  static task<> serve_datagrams(std::shared_ptr<State> self) {
    std::array<char, most_call_bytes> bytes;
    std::string reply;
    while (self->datagrams.is_open()) {
      udp::endpoint from;
      const auto [error, count] =
          co_await self->datagrams.async_receive_from(asio::buffer(bytes), from, asio::as_tuple(asio::use_awaitable));
      if (error == asio::error::operation_aborted) co_return;
      reply.clear();
      if (error || !answer_portmapper(std::string_view(bytes.data(), count), self->mappings, reply)) continue;
      // A reply that cannot be sent is as one that is lost: the caller asks again.
      co_await self->datagrams.async_send_to(asio::buffer(reply), from, asio::as_tuple(asio::use_awaitable));
    }
  }

  static task<> serve_stream(std::shared_ptr<State> self, tcp::socket socket) {
    RecordStream stream(std::move(socket), most_call_bytes);
    std::string call, reply;
    try {
      for (;;) {
        co_await stream.next_record();
        co_await stream.read_rest(call);
        begin_record(reply);
        if (!answer_portmapper(call, self->mappings, reply)) continue;
        end_record(reply);
        co_await stream.write({asio::buffer(reply)});
      }
    } catch (const boost::system::system_error&) {
      co_return;  // the client is gone, or the server stops
    } catch (const WireFault&) {
      co_return;  // nothing that could be answered
    }
  }
};

Portmapper::Portmapper(const asio::any_io_executor& executor, const asio::ip::address& address, std::uint16_t port,
                       std::vector<Mapping> mappings)
    : state_(std::make_shared<State>(executor, std::move(mappings))) {
  ListenOn listen{.address = address, .port = port, .what = "the portmapper"};
  for (int tries = 1; !listener_; ++tries) {
    auto listener = std::make_unique<Listener>(executor, listen, [state = state_](tcp::socket socket) {
      return State::serve_stream(state, std::move(socket));
    });
    boost::system::error_code error;
    const udp::endpoint endpoint(address, listener->port());
    state_->datagrams = udp::socket(executor);
    state_->datagrams.open(endpoint.protocol(), error);
    if (!error) state_->datagrams.bind(endpoint, error);
    if (!error) {
      listener_ = std::move(listener);
    } else if (port != 0 || error != asio::error::address_in_use || tries == most_tries) {
      listen.port = endpoint.port();
      fail_to_serve(listen, error);
    }
  }
  for (const auto protocol : {Protocol::tcp, Protocol::udp})
    state_->mappings.push_back({.program = portmapper_program,
                                .version = portmapper_version,
                                .protocol = static_cast<std::uint32_t>(protocol),
                                .port = listener_->port()});
  asio::co_spawn(executor, State::serve_datagrams(state_), [](const std::exception_ptr& e) {
    if (e && !detail::is_cancellation(e)) std::rethrow_exception(e);
  });
}

Portmapper::~Portmapper() { stop(); }

std::uint16_t Portmapper::port() const { return listener_->port(); }

void Portmapper::stop() noexcept {
  listener_->stop();
  boost::system::error_code closed;  // nothing can be done about a failing close
  state_->datagrams.close(closed);
}

}  // namespace eyelevel::transport::vxi11
