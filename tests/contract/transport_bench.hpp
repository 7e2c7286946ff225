// SPDX-License-Identifier: Apache-2.0
// Every transport with a session on it, for the suite over them. A new transport is one more entry in carriers().
// Memory and USB run in simulated time, what has real descriptors on the wall clock.
#pragma once

#include <catch2/catch.hpp>

#include <functional>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "core/base/deadline.hpp"
#include "core/base/error.hpp"
#include "instruments/scpi/block.hpp"
#include "instruments/transport/hislip/client.hpp"
#include "instruments/transport/hislip/server.hpp"
#include "instruments/transport/memory/client.hpp"
#include "instruments/transport/serial/client.hpp"
#include "instruments/transport/serial/server.hpp"
#include "instruments/transport/session.hpp"
#include "instruments/transport/socket/client.hpp"
#include "instruments/transport/socket/server.hpp"
#include "instruments/transport/usbtmc/client.hpp"
#include "instruments/transport/usbtmc/simulated_pipe.hpp"
#include "instruments/transport/vxi11/client.hpp"
#include "instruments/transport/vxi11/server.hpp"
#include "tests/instruments/transport/hislip/certificate_of_a_server.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_device.hpp"
#include "tests/support/temporary_folder.hpp"

namespace eyelevel::test {

using transport::Device;
using transport::Reply;
using transport::Session;

// What a test gets: a clock, and a session with a device, over some carrier.
struct Bench {
  base::Timeline& timeline;
  Session& session;
};
using Body = std::function<task<>(Bench)>;

using MakeDevice = std::function<std::shared_ptr<Device>(base::Timeline&)>;

struct CarrierUnderTest {
  std::string name;
  std::function<void(const MakeDevice&, const Body&)> run;
  bool out_of_band = true;  // carries serial polls, locks, remote and local
  bool service = true;      // carries service requests
  bool shared = true;       // several programs can use the instrument, so its locks are its own
};

inline task<> over_memory(base::Timeline& timeline, std::shared_ptr<Device> device, const Body& body) {
  Session session(timeline, co_await transport::memory::connect(std::move(device), "MEMORY0::m::INSTR"));
  co_await body({timeline, session});
}

inline task<> over_socket(base::Timeline& timeline, std::shared_ptr<Device> device, const Body& body) {
  const auto executor = co_await boost::asio::this_coro::executor;
  const transport::socket::SocketServer server(executor, std::move(device), {});
  Session session(timeline,
                  co_await transport::socket::connect(transport::parse_resource_name(server.resource_name())));
  co_await body({timeline, session});
}

// The two queries with which the serial transport clears a line; everything else goes to the device under test.
class WithStandardQueries final : public Device {
 public:
  explicit WithStandardQueries(std::shared_ptr<Device> inner) : inner_(std::move(inner)) {}

  task<> execute(std::string_view message, Reply& reply) override {
    if (message == "*IDN?") {
      reply.bytes = "Eyelevel,Tested,0,1.0";
    } else if (message == "*STB?") {
      reply.bytes = "32";
    } else {
      co_await inner_->execute(message, reply);
    }
  }
  void clear() override { inner_->clear(); }

 private:
  std::shared_ptr<Device> inner_;
};

inline task<> over_serial(base::Timeline& timeline, std::shared_ptr<Device> device, const Body& body) {
  const auto executor = co_await boost::asio::this_coro::executor;
  const TemporaryFolder folder;
  const transport::serial::SerialServer server(executor, std::make_shared<WithStandardQueries>(std::move(device)),
                                               folder.path() / "line");
  Session session(timeline,
                  co_await transport::serial::connect(transport::parse_resource_name(server.resource_name())));
  co_await body({timeline, session});
}

inline task<std::shared_ptr<transport::usbtmc::Pipe>> plugged_in(boost::asio::any_io_executor executor,
                                                                 std::shared_ptr<Device> device) {
  co_return transport::usbtmc::simulated_pipe(std::make_shared<transport::usbtmc::UsbtmcServer>(
      executor, std::move(device), transport::usbtmc::ServerOptions{}));
}

// Opened anew, the same instrument is there again.
inline task<> over_usbtmc(base::Timeline& timeline, std::shared_ptr<Device> device, const Body& body) {
  const auto executor = co_await boost::asio::this_coro::executor;
  const transport::usbtmc::OpenPipe open = [executor, device] { return plugged_in(executor, device); };
  Session session(timeline,
                  co_await transport::usbtmc::connect(timeline, "USB0::0x1234::0x5678::1::0::INSTR", open, {}));
  co_await body({timeline, session});
}

inline task<> over_vxi11(base::Timeline& timeline, std::shared_ptr<Device> device, const Body& body) {
  const auto executor = co_await boost::asio::this_coro::executor;
  const transport::vxi11::Vxi11Server server(executor, timeline, {{"inst0", std::move(device)}}, {});
  transport::vxi11::Options options;
  options.portmapper_port = server.portmapper_port();
  Session session(timeline,
                  co_await transport::vxi11::connect(transport::parse_resource_name(server.resource_name()), options));
  co_await body({timeline, session});
}

inline task<> over_hislip(base::Timeline& timeline, std::shared_ptr<Device> device, const Body& body) {
  const auto executor = co_await boost::asio::this_coro::executor;
  const transport::hislip::HislipServer server(executor, timeline, {{"hislip0", std::move(device)}}, {});
  Session session(timeline,
                  co_await transport::hislip::connect(transport::parse_resource_name(server.resource_name())));
  co_await body({timeline, session});
}

inline task<> over_hislip_overlapped(base::Timeline& timeline, std::shared_ptr<Device> device, const Body& body) {
  const auto executor = co_await boost::asio::this_coro::executor;
  const transport::hislip::HislipServer server(executor, timeline, {{"hislip0", std::move(device)}}, {});
  transport::hislip::ClientOptions options;
  options.mode = transport::hislip::Mode::overlapped;
  Session session(timeline,
                  co_await transport::hislip::connect(transport::parse_resource_name(server.resource_name()), options));
  co_await body({timeline, session});
}

inline task<> over_hislip_encrypted(base::Timeline& timeline, std::shared_ptr<Device> device, const Body& body) {
  const auto executor = co_await boost::asio::this_coro::executor;
  transport::hislip::Listen listen;
  listen.security = security(true, {"bench", "secret"});
  const transport::hislip::HislipServer server(executor, timeline, {{"hislip0", std::move(device)}}, listen);
  transport::hislip::ClientOptions options;
  options.fingerprint = fingerprint();
  options.login = listen.security->login;
  Session session(timeline,
                  co_await transport::hislip::connect(transport::parse_resource_name(server.resource_name()), options));
  co_await body({timeline, session});
}

// On the wall clock, for whatever has real descriptors.
template <class Over>
CarrierUnderTest real(std::string name, Over over, bool out_of_band, bool service = true) {
  return {std::move(name),
          [over](const MakeDevice& make, const Body& body) {
            Wall wall;
            wall.run(over(*wall.timeline, make(*wall.timeline), body));
          },
          out_of_band, service};
}

// In simulated time.
template <class Over>
CarrierUnderTest simulated(std::string name, Over over, bool shared = true) {
  return {.name = std::move(name),
          .run =
              [over](const MakeDevice& make, const Body& body) {
                Simulated sim;
                sim.run(over(*sim.timeline, make(*sim.timeline), body));
              },
          .shared = shared};
}

#ifdef EYELEVEL_OTHER_CARRIERS
std::vector<CarrierUnderTest> carriers();  // the program's own
#else
inline std::vector<CarrierUnderTest> carriers() {
  return {simulated("memory", over_memory),
          simulated("usbtmc", over_usbtmc, false),
          real("socket", over_socket, false),
          real("serial", over_serial, false, false),
          real("vxi11", over_vxi11, true),
          real("hislip", over_hislip, true),
          real("hislip, overlapped", over_hislip_overlapped, true),
          real("hislip, encrypted", over_hislip_encrypted, true)};
}
#endif

// Empty names: all of them.
inline void on_carriers(const std::set<std::string>& names, const ScriptedDevice::Script& script, const Body& body) {
  for (const auto& carrier : carriers()) {
    if (!names.empty() && !names.contains(carrier.name)) continue;
    INFO("over " << carrier.name);
    carrier.run([&](base::Timeline& timeline) { return std::make_shared<ScriptedDevice>(timeline, script); }, body);
  }
}

inline void on_every_carrier(const ScriptedDevice::Script& script, const Body& body) { on_carriers({}, script, body); }

// Long enough for a loaded machine, short enough to wait for.
#ifdef EYELEVEL_OTHER_CARRIERS
inline constexpr base::Duration generous = std::chrono::seconds(60);  // each system call goes to a mock and back
#else
inline constexpr base::Duration generous = std::chrono::seconds(10);
#endif
inline constexpr base::Duration short_wait = std::chrono::milliseconds(30);

// Sizes around every buffer edge that the transports have or might have.
inline std::vector<std::size_t> edge_sizes() {
  std::vector<std::size_t> sizes{0, 1, 2, 3};
  for (const std::size_t edge : {512U, 1024U, 4096U, 8192U, 65536U, 131072U, 196608U, 262144U, 1048576U})
    for (const int off : {-13, -9, -8, -2, -1, 0, 1, 2, 8, 9}) sizes.push_back(edge + static_cast<std::size_t>(off));
  return sizes;
}

// Bytes that hold NL, CR, quotes, '#', ';' and every other value.
inline std::string pattern(std::size_t size) {
  std::string bytes(size, '\0');
  std::uint32_t x = 1;
  for (char& c : bytes) {
    x = x * 1664525U + 1013904223U;
    c = (x >> 28U) == 0 ? '\n' : static_cast<char>(x >> 24U);
  }
  return bytes;
}

inline std::size_t number_in(std::string_view message) {
  return static_cast<std::size_t>(std::stoul(std::string(message.substr(message.find(' ') + 1))));
}

// "BLOC? n" gives a block of n bytes, "TEXT? n" n letters, "TAKE name,<block>" nothing, "SIZE?" the bytes of the
// message before, anything else itself.
inline ScriptedDevice::Script obliging() {
  auto before = std::make_shared<std::size_t>(0);
  return [before](std::string_view message, Reply& reply) {
    if (message.starts_with("BLOC? ")) {
      scpi::append_block(reply.bytes, pattern(number_in(message)));
    } else if (message.starts_with("TEXT? ")) {
      reply.bytes.assign(number_in(message), 'x');
    } else if (message == "SIZE?") {
      reply.bytes = std::to_string(*before);
    } else if (!message.starts_with("TAKE ")) {
      reply.bytes = "echo " + std::string(message);
    }
    *before = message.size();
    return base::Duration(0);
  };
}

inline task<> paced() { co_return; }

inline task<std::optional<base::ErrorRecord>> error_of(Session& session, std::string message, base::Duration within) {
  std::optional<base::ErrorRecord> record;
  try {
    co_await session.query(message, within);
  } catch (const base::Error& error) {
    record = error.record();
  }
  co_return record;
}

}  // namespace eyelevel::test
