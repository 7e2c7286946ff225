// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/transports.hpp"

#include <fmt/format.h>

#include <boost/asio/thread_pool.hpp>

#include <exception>
#include <utility>

#include "core/base/deadline.hpp"
#include "instruments/transport/error.hpp"
#include "instruments/transport/memory/client.hpp"
#include "instruments/transport/socket/client.hpp"
#include "instruments/transport/usbtmc/client.hpp"
#include "instruments/transport/usbtmc/system_nodes.hpp"
#include "instruments/transport/usbtmc/system_pipe.hpp"
#include "instruments/transport/usbtmc/usb.hpp"
#include "instruments/transport/visa/client.hpp"

namespace eyelevel::transport {
namespace {

task<std::unique_ptr<Link>> open_memory(const std::shared_ptr<const memory::MemoryServer>& server, ResourceName name) {
  auto device = server->find(name.host);
  if (!device) {
    std::string known;
    for (const auto& other : server->names()) known += (known.empty() ? "" : ", ") + other;
    fail(base::ErrorCode::no_connection, name.canonical(),
         fmt::format("the simulated bench has no instrument \"{}\"; it has: {}", name.host,
                     known.empty() ? "none" : known),
         "correct the resource in the bench file");
  }
  return memory::connect(std::move(device), name.canonical());
}

// One for all links of a program, made when the first is opened.
struct LateUsb {
  std::shared_ptr<usbtmc::Usb> usb;
  std::shared_ptr<boost::asio::thread_pool> threads;  // for the system's driver
};

// Each node may need four at once (usbtmc/pipe.hpp), and Linux has minor numbers for sixteen of them.
constexpr std::size_t system_usb_threads = 64;

// What a driver of the system holds and libusb may not use is used through that driver.
task<std::shared_ptr<usbtmc::Pipe>> open_usb(std::shared_ptr<LateUsb> late, ResourceName name) {
  std::exception_ptr refused;
  if (name.host.empty()) {
    try {
      if (!late->usb) late->usb = std::make_shared<usbtmc::Usb>();
      co_return co_await usbtmc::open_interface(late->usb, name);
    } catch (const TransportError&) {
      refused = std::current_exception();
    }
    name.host = usbtmc::system_node_of(name);
    if (name.host.empty()) std::rethrow_exception(refused);
  }
  if (!late->threads) late->threads = std::make_shared<boost::asio::thread_pool>(system_usb_threads);
  co_return co_await usbtmc::open_system_node(late->threads, std::move(name));
}

task<std::unique_ptr<Link>> open_usbtmc(std::shared_ptr<LateUsb> late, ResourceName name, base::Timeline& timeline,
                                        usbtmc::Quirks quirks) {
  const auto text = name.canonical();
  usbtmc::OpenPipe open = [late, name = std::move(name)] { return open_usb(late, name); };
  co_return co_await usbtmc::connect(timeline, text, std::move(open), quirks);
}

}  // namespace

task<std::unique_ptr<Link>> Transports::open(std::string resource, base::Timeline& timeline,
                                             base::Duration within) const {
  const auto name = parse_resource_name(resource);
  const auto at = open_.find(name.carrier);
  if (at == open_.end())
    fail(base::ErrorCode::no_connection, name.canonical(),
         fmt::format("instruments reached by {} are not yet served by this version", name_of(name.carrier)),
         "give the instrument's socket instead: TCPIP::host::5025::SOCKET");
  const auto begun = timeline.now();
  const auto step = std::make_shared<std::string>();
  auto link = co_await base::result_within(timeline, within, at->second(name, timeline, step));
  if (link) co_return std::move(*link);
  base::ErrorRecord record;
  record.code = base::ErrorCode::no_connection;
  record.where = name.canonical();
  record.message = fmt::format("no connection within {:.2f} s{}{}", base::to_seconds(within),
                               step->empty() ? "" : ", still waiting for ", *step);
  record.elapsed_s = base::to_seconds(timeline.now() - begun);
  record.advice = "is the instrument switched on and on this network? does its address answer a ping?";
  throw TransportError(std::move(record));
}

task<std::unique_ptr<Session>> Transports::open_session(std::string resource, base::Timeline& timeline,
                                                        base::Duration within) const {
  auto link = co_await open(std::move(resource), timeline, within);
  co_return std::make_unique<Session>(timeline, std::move(link));
}

void add_socket(Transports& transports) {
  transports.add(Carrier::socket, [](ResourceName name) { return socket::connect(std::move(name)); });
}

void add_vxi11(Transports& transports, vxi11::Options how) {
  transports.add_in_steps(Carrier::vxi11, [how = std::move(how)](ResourceName name, std::shared_ptr<std::string> step) {
    auto options = how;
    options.step = std::move(step);
    return vxi11::connect(std::move(name), std::move(options));
  });
}

void add_serial(Transports& transports, std::function<serial::Line(const ResourceName&)> line_of) {
  transports.add(Carrier::serial, [line_of = std::move(line_of)](ResourceName name) {
    const auto line = line_of(name);
    return serial::connect(std::move(name), line);
  });
}

void add_hislip(Transports& transports, std::function<hislip::ClientOptions(const ResourceName&)> options_of) {
  transports.add(Carrier::hislip, [options_of = std::move(options_of)](ResourceName name) {
    auto options = options_of ? options_of(name) : hislip::ClientOptions{};
    return hislip::connect(std::move(name), std::move(options));
  });
}

void add_usbtmc(Transports& transports, std::function<usbtmc::Quirks(const ResourceName&)> quirks_of) {
  transports.add_on_timeline(Carrier::usbtmc, [late = std::make_shared<LateUsb>(), quirks_of = std::move(quirks_of)](
                                                  ResourceName name, base::Timeline& timeline) {
    const auto quirks = quirks_of ? quirks_of(name) : usbtmc::Quirks{};
    return open_usbtmc(late, std::move(name), timeline, quirks);
  });
}

void add_visa(Transports& transports, std::string library) {
  transports.add(Carrier::gpib, [visa = std::make_shared<visa::Visa>(std::move(library))](ResourceName name) {
    return visa::connect(visa, std::move(name));
  });
}

void add_outside(Transports& transports, std::map<std::string, OpenOnTimeline> by_name) {
  transports.add_on_timeline(
      Carrier::plugin, [by_name = std::move(by_name)](ResourceName name, base::Timeline& timeline) {
        const auto at = by_name.find(name.host);
        if (at != by_name.end()) return at->second(std::move(name), timeline);
        std::string known;
        for (const auto& [other, open] : by_name) known += (known.empty() ? "" : ", ") + other;
        fail(base::ErrorCode::no_connection, name.canonical(),
             fmt::format("no plugin has the transport '{}'; there is: {}", name.host, known.empty() ? "none" : known),
             "see `eyelevel plugins`, and give the folder of the plugin with --plugins");
      });
}

void add_memory(Transports& transports, std::shared_ptr<const memory::MemoryServer> server) {
  transports.add(Carrier::memory,
                 [server = std::move(server)](ResourceName name) { return open_memory(server, std::move(name)); });
}

}  // namespace eyelevel::transport
