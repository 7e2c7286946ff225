// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/transports.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "instruments/transport/hislip/server.hpp"
#include "instruments/transport/vxi11/listener.hpp"
#include "instruments/transport/vxi11/server.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_device.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace std::chrono_literals;

namespace {

base::ErrorRecord refusal(test::Simulated& sim, const Transports& transports, std::string resource) {
  base::ErrorRecord record;
  auto main = [](base::Timeline& timeline, const Transports& all, std::string name, base::ErrorRecord& into) -> task<> {
    try {
      co_await all.open(name, timeline, 1s);
      FAIL("was opened");
    } catch (const base::Error& error) {
      into = error.record();
    }
  };
  sim.run(main(*sim.timeline, transports, std::move(resource), record));
  return record;
}

}  // namespace

TEST_CASE("transports: a memory resource opens the instrument of that name, without regard to case", "[transport]") {
  test::Simulated sim;
  auto bench = std::make_shared<memory::MemoryServer>();
  bench->add("scope", std::make_shared<test::ScriptedDevice>(*sim.timeline, [](std::string_view, Reply& reply) {
               reply.bytes = "here";
               return base::Duration(0);
             }));
  Transports transports;
  add_memory(transports, bench);
  CHECK(transports.serves(Carrier::memory));
  auto main = [](base::Timeline& timeline, const Transports& all) -> task<> {
    const auto session = co_await all.open_session("memory::SCOPE", timeline, 1s);
    CHECK(session->resource_name() == "MEMORY0::SCOPE::INSTR");
    CHECK(co_await session->query("?", 1s) == "here");
  };
  sim.run(main(*sim.timeline, transports));
}

TEST_CASE("transports: a HiSLIP resource opens the instrument at its port", "[transport]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    const auto device = std::make_shared<test::ScriptedDevice>(timeline, [](std::string_view, Reply& reply) {
      reply.bytes = "here";
      return base::Duration(0);
    });
    const hislip::HislipServer server(co_await boost::asio::this_coro::executor, timeline, {{"", device}}, {});
    Transports transports;
    add_hislip(transports);
    const auto session = co_await transports.open_session(server.resource_name(), timeline, 10s);
    CHECK(session->resource_name() == server.resource_name());
    CHECK(co_await session->query("?", 10s) == "here");
  };
  wall.run(main(*wall.timeline));
}

TEST_CASE("transports: an unknown instrument is told with those that are there", "[transport]") {
  test::Simulated sim;
  auto bench = std::make_shared<memory::MemoryServer>();
  bench->add("meter", nullptr);
  Transports transports;
  add_memory(transports, bench);
  const auto record = refusal(sim, transports, "MEMORY::scope");
  CHECK(record.code == base::ErrorCode::no_connection);
  CHECK(record.message == "the simulated bench has no instrument \"scope\"; it has: meter");
}

TEST_CASE("transports: a kind that this version does not serve says so and offers the socket", "[transport]") {
  test::Simulated sim;
  Transports transports;
  add_socket(transports);
  for (const char* name :
       {"TCPIP::192.0.2.1::INSTR", "TCPIP::192.0.2.1::hislip0", "USB::1::2::s", "ASRL1", "MEMORY::x"}) {
    CAPTURE(name);
    const auto record = refusal(sim, transports, name);
    CHECK(record.code == base::ErrorCode::no_connection);
    CHECK_THAT(record.message, Catch::Contains("not yet served by this version"));
  }
  CHECK(refusal(sim, transports, "nonsense").code == base::ErrorCode::bad_input);
}

TEST_CASE("transports: a VXI-11 resource is opened through the portmapper, and a time-out names the step that hangs",
          "[transport]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    const auto executor = co_await boost::asio::this_coro::executor;
    const auto device = std::make_shared<test::ScriptedDevice>(timeline, [](std::string_view, Reply& reply) {
      reply.bytes = "here";
      return base::Duration(0);
    });
    const vxi11::Vxi11Server server(executor, timeline, {{"inst0", device}}, {});
    Transports transports;
    vxi11::Options how;
    how.portmapper_port = server.portmapper_port();
    add_vxi11(transports, how);
    const auto session = co_await transports.open_session("TCPIP::127.0.0.1", timeline, 10s);
    CHECK(session->resource_name() == "TCPIP0::127.0.0.1::inst0::INSTR");
    CHECK(co_await session->query("?", 10s) == "here");

    const vxi11::Listener silent(
        executor, {.address = boost::asio::ip::make_address("127.0.0.1"), .port = 0, .what = "silence"},
        [&timeline](boost::asio::ip::tcp::socket socket) {
          auto keep = [](base::Timeline& clock, boost::asio::ip::tcp::socket) -> task<> { co_await clock.sleep(1h); };
          return keep(timeline, std::move(socket));
        });
    how.portmapper_port = silent.port();
    add_vxi11(transports, how);
    try {
      co_await transports.open("TCPIP::127.0.0.1::inst0", timeline, 20ms);
      FAIL("was opened");
    } catch (const base::Error& error) {
      CHECK(error.record().message ==
            "no connection within 0.02 s, still waiting for the portmapper on port " + std::to_string(silent.port()));
    }
  };
  wall.run(main(*wall.timeline));
}
