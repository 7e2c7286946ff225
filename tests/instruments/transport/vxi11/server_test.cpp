// SPDX-License-Identifier: Apache-2.0
// The server as our own client and the portmapper see it; call by call in core_conversation_test.cpp.
#include "instruments/transport/vxi11/server.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "core/base/gong.hpp"
#include "instruments/transport/session.hpp"
#include "instruments/transport/vxi11/client.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_device.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::vxi11;
using namespace std::chrono_literals;

namespace {

std::shared_ptr<test::ScriptedDevice> named(base::Timeline& timeline, std::string name) {
  return std::make_shared<test::ScriptedDevice>(timeline, [name](std::string_view message, Reply& reply) {
    reply.bytes = name + " says " + std::string(message);
    return message == "long?" ? base::Duration(1h) : base::Duration(0);
  });
}

task<std::unique_ptr<Session>> session_with(base::Timeline& timeline, const Vxi11Server& server,
                                            std::string_view device = "inst0") {
  Options options;
  options.portmapper_port = server.portmapper_port();
  co_return std::make_unique<Session>(timeline,
                                      co_await connect(parse_resource_name(server.resource_name(device)), options));
}

class RequestingDevice final : public Device {
 public:
  task<> execute(std::string_view, Reply&) override { co_return; }
  void clear() override {}
  std::uint8_t serial_poll(bool) override { return 0x40; }
  task<std::uint64_t> service_requested(std::uint64_t seen) override {
    while (requests_ <= seen) co_await asked_.wait();
    co_return requests_;
  }
  void request() {
    ++requests_;
    asked_.strike();
  }

 private:
  std::uint64_t requests_ = 0;
  base::Gong asked_;
};

constexpr base::Duration generous = 10s;
constexpr base::Duration short_wait = 20ms;

}  // namespace

TEST_CASE("vxi11 server: each device is reached by its name, several clients at once", "[transport]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    const Vxi11Server server(co_await boost::asio::this_coro::executor, timeline,
                             {{"inst0", named(timeline, "scope")}, {"inst1", named(timeline, "meter")}}, {});
    CHECK(server.resource_name("inst1") == "TCPIP0::127.0.0.1::inst1::INSTR");
    const auto first = co_await session_with(timeline, server);
    const auto second = co_await session_with(timeline, server, "inst1");
    const auto third = co_await session_with(timeline, server);
    CHECK(co_await second->query("a?", generous) == "meter says a?");
    try {
      co_await first->query("long?", short_wait);
      FAIL("was answered");
    } catch (const base::Error& error) {
      CHECK(error.record().code == base::ErrorCode::time_out);
    }
    CHECK(co_await third->query("b?", generous) == "scope says b?");
    CHECK(co_await first->query("c?", generous) == "scope says c?");
    CHECK(server.clients() == 3);
    CHECK(server.links() == 3);
  };
  wall.run(main(*wall.timeline));
}

TEST_CASE("vxi11 server: a session that closes leaves neither link nor connection", "[transport]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    const Vxi11Server server(co_await boost::asio::this_coro::executor, timeline, {{"inst0", named(timeline, "scope")}},
                             {});
    {
      const auto first = co_await session_with(timeline, server);
      const auto second = co_await session_with(timeline, server);
      second->close();
    }
    while (server.clients() + server.links() > 0) co_await timeline.sleep(1ms);
    CHECK(server.links() == 0);
  };
  wall.run(main(*wall.timeline));
}

TEST_CASE("vxi11 server: every client that asked for it hears of a request, each once until it is polled",
          "[transport]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    const auto device = std::make_shared<RequestingDevice>();
    const Vxi11Server server(co_await boost::asio::this_coro::executor, timeline, {{"inst0", device}}, {});
    const auto first = co_await session_with(timeline, server);
    const auto second = co_await session_with(timeline, server);
    CHECK_FALSE(co_await first->wait_for_service(short_wait));
    CHECK_FALSE(co_await second->wait_for_service(short_wait));
    for (int round = 0; round < 3; ++round) {
      device->request();
      CHECK(co_await first->wait_for_service(generous));
      CHECK(co_await second->wait_for_service(generous));
      CHECK_FALSE(co_await first->wait_for_service(short_wait));
    }
    CHECK(int{co_await first->status_byte(generous)} == 0x40);
  };
  wall.run(main(*wall.timeline));
}

TEST_CASE("vxi11 server: a request that came before the client asked for requests, and was not polled, is told",
          "[transport]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    const auto device = std::make_shared<RequestingDevice>();
    const Vxi11Server server(co_await boost::asio::this_coro::executor, timeline, {{"inst0", device}}, {});
    const auto session = co_await session_with(timeline, server);
    device->request();
    CHECK(co_await session->wait_for_service(generous));
    const auto late = co_await session_with(timeline, server);
    CHECK(int{co_await session->status_byte(generous)} == 0x40);
    CHECK_FALSE(co_await late->wait_for_service(short_wait));
  };
  wall.run(main(*wall.timeline));
}

TEST_CASE("vxi11 server: requests for service are heard again after the connection was opened anew", "[transport]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    const auto device = std::make_shared<RequestingDevice>();
    const auto executor = co_await boost::asio::this_coro::executor;
    auto server = std::make_unique<Vxi11Server>(executor, timeline, Devices{{"inst0", device}}, Listen{});
    Listen again;
    again.portmapper_port = server->portmapper_port();
    const auto session = co_await session_with(timeline, *server);
    CHECK_FALSE(co_await session->wait_for_service(short_wait));
    server.reset();  // the instrument restarts
    server = std::make_unique<Vxi11Server>(executor, timeline, Devices{{"inst0", device}}, again);
    try {
      co_await session->write("*CLS", generous);
      FAIL("the connection was lost");
    } catch (const base::Error& error) {
      CHECK(error.record().code == base::ErrorCode::connection_lost);
    }
    co_await session->write("*CLS", generous);
    device->request();
    CHECK(co_await session->wait_for_service(generous));
  };
  wall.run(main(*wall.timeline));
}

TEST_CASE("vxi11 server: a port that is taken is told with its number and what was to be served there", "[transport]") {
  test::Wall wall;
  const Vxi11Server first(wall.loop.get_executor(), *wall.timeline, {}, {});
  const auto refused = [&](Listen listen) {
    try {
      const Vxi11Server second(wall.loop.get_executor(), *wall.timeline, {}, listen);
    } catch (const base::Error& error) {
      CHECK(error.record().code == base::ErrorCode::no_connection);
      return error.record().where + ": " + error.record().message;
    }
    return std::string("was served twice");
  };
  Listen listen;
  listen.core_port = first.core_port();
  CHECK_THAT(refused(listen), Catch::StartsWith("127.0.0.1 port " + std::to_string(first.core_port()) +
                                                ": cannot serve the core channel here"));
  listen = {};
  listen.portmapper_port = first.portmapper_port();
  CHECK_THAT(refused(listen), Catch::Contains("cannot serve the portmapper here"));
  listen = {};
  listen.address = "no address";
  CHECK_THAT(refused(listen), Catch::Contains("no address of this computer"));
}
