// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/vxi11/server.hpp"

#include <fmt/format.h>

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/buffer.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/system/system_error.hpp>

#include <list>
#include <utility>

#include "instruments/transport/detail/cancellation.hpp"
#include "instruments/transport/detail/line_conversation.hpp"
#include "instruments/transport/error.hpp"
#include "instruments/transport/resource_name.hpp"
#include "instruments/transport/vxi11/core_conversation.hpp"
#include "instruments/transport/vxi11/listener.hpp"
#include "instruments/transport/vxi11/portmapper.hpp"

namespace eyelevel::transport::vxi11 {
namespace asio = boost::asio;
using asio::ip::tcp;
namespace {

task<> serve_core(tcp::socket socket, std::shared_ptr<Shared> shared) {
  co_await CoreConversation::run(std::make_shared<CoreConversation>(std::move(socket), std::move(shared)));
}

DeviceError abort_call(const Shared& shared, std::int32_t id) {
  const auto at = shared.links.find(id);
  if (at == shared.links.end()) return DeviceError::invalid_link;
  auto& link = *at->second;
  if (link.in_call) {
    link.aborted = true;
    link.exchange->changed.strike();
    link.device().access.released.strike();
  }
  return DeviceError::none;
}

void answer_abort(const FoundCall& found, const Shared& shared, std::string& reply) {
  const auto xid = found.call.xid;
  XdrReader arguments(found.arguments);
  if (!found.right_rpc) {
    append_denied(reply, xid);
  } else if (found.call.program != abort_program) {
    append_reply(reply, xid, AcceptState::program_unavailable);
  } else if (found.call.version != program_version) {
    append_version_mismatch(reply, xid, program_version, program_version);
  } else if (found.call.procedure == static_cast<std::uint32_t>(Procedure::null)) {
    append_reply(reply, xid);
  } else if (found.call.procedure != static_cast<std::uint32_t>(Procedure::device_abort)) {
    append_reply(reply, xid, AcceptState::procedure_unavailable);
  } else if (const auto link = read_link(arguments); !arguments.good()) {
    append_reply(reply, xid, AcceptState::garbage_arguments);
  } else {
    append_reply(reply, xid);
    append_error(reply, abort_call(shared, link));
  }
}

task<> serve_abort(tcp::socket socket, std::shared_ptr<Shared> shared) {
  RecordStream stream(std::move(socket), most_small_bytes);
  std::string record, reply;
  try {
    for (;;) {
      co_await stream.next_record();
      co_await stream.read_rest(record);
      const auto found = read_call(record);
      if (!found.is_call) co_return;
      begin_record(reply);
      answer_abort(found, *shared, reply);
      end_record(reply);
      co_await stream.write({asio::buffer(reply)});
    }
  } catch (const boost::system::system_error&) {
    co_return;  // the client is gone, or the server stops
  } catch (const WireFault&) {
    co_return;  // nothing that could be answered
  }
}

// Passes a device's requests on to every link that wants them.
task<> watch(std::shared_ptr<Shared> shared, std::shared_ptr<ServedDevice> served) {
  for (;;) {
    served->requests = co_await served->device->service_requested(served->requests);
    for (const auto& [id, link] : shared->links)
      if (link->served == served) link->request_service();
  }
}

std::string lower(std::string text) {
  for (char& c : text)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return text;
}

}  // namespace

struct Vxi11Server::State {
  std::shared_ptr<Shared> shared;
  std::string host;
  std::unique_ptr<Listener> core, abort;
  std::unique_ptr<Portmapper> portmapper;
  // One for each device's watch; its coroutine keeps the list alive.
  std::shared_ptr<std::list<asio::cancellation_signal>> watches =
      std::make_shared<std::list<asio::cancellation_signal>>();

  void serve_device(std::string name, std::shared_ptr<Device> device) {
    auto served = std::make_shared<ServedDevice>();
    served->device = std::move(device);
    shared->devices.insert_or_assign(lower(std::move(name)), served);
    const auto signal = watches->emplace(watches->end());
    asio::co_spawn(shared->executor, watch(shared, served),
                   asio::bind_cancellation_slot(signal->slot(), [all = watches](const std::exception_ptr& e) {
                     if (e && !detail::is_cancellation(e)) std::rethrow_exception(e);
                   }));
  }
};

Vxi11Server::Vxi11Server(const asio::any_io_executor& executor, base::Timeline& timeline, Devices devices,
                         const Listen& listen)
    : state_(std::make_shared<State>()) {
  boost::system::error_code error;
  const auto address = asio::ip::make_address(listen.address, error);
  if (error)
    fail(base::ErrorCode::no_connection, listen.address, "this is no address of this computer",
         "give one of this computer's addresses, or 0.0.0.0 for all");
  state_->host = address.is_v6() ? fmt::format("[{}]", listen.address) : listen.address;
  auto shared = std::make_shared<Shared>(executor, timeline, listen);
  state_->shared = shared;
  state_->core = std::make_unique<Listener>(
      executor, ListenOn{.address = address, .port = listen.core_port, .what = "the core channel"},
      [shared](tcp::socket socket) { return serve_core(std::move(socket), shared); });
  state_->abort =
      std::make_unique<Listener>(executor, ListenOn{.address = address, .what = "the abort channel"},
                                 [shared](tcp::socket socket) { return serve_abort(std::move(socket), shared); });
  shared->abort_port = state_->abort->port();
  state_->portmapper = std::make_unique<Portmapper>(
      executor, address, listen.portmapper_port,
      std::vector<Mapping>{{.program = core_program, .version = program_version, .port = core_port()},
                           {.program = abort_program, .version = program_version, .port = shared->abort_port}});
  for (auto& [name, device] : devices) state_->serve_device(name, device);
}

Vxi11Server::~Vxi11Server() { stop(); }

std::uint16_t Vxi11Server::portmapper_port() const { return state_->portmapper->port(); }
std::uint16_t Vxi11Server::core_port() const { return state_->core->port(); }
std::uint16_t Vxi11Server::abort_port() const { return state_->shared->abort_port; }

std::string Vxi11Server::resource_name(std::string_view device) const {
  ResourceName name;
  name.carrier = Carrier::vxi11;
  name.host = state_->host;
  name.device = device;
  return name.canonical();
}

std::size_t Vxi11Server::clients() const { return state_->core->clients(); }
std::size_t Vxi11Server::links() const { return state_->shared->links.size(); }

void Vxi11Server::stop() noexcept {
  state_->portmapper->stop();
  state_->core->stop();
  state_->abort->stop();
  for (auto& signal : *state_->watches) signal.emit(asio::cancellation_type::terminal);
}

}  // namespace eyelevel::transport::vxi11
