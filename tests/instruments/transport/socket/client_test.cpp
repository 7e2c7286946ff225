// SPDX-License-Identifier: Apache-2.0
// What only sockets do; what they share with all other transports is in tests/contract.
#include "instruments/transport/socket/client.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "instruments/transport/socket/server.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_device.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace std::chrono_literals;

TEST_CASE("socket client: a port where nobody listens is told with the step that failed", "[transport]") {
  test::Wall wall;
  std::uint16_t port = 0;
  {
    // A port that was just free.
    const socket::SocketServer server(wall.loop.get_executor(),
                                      std::make_shared<test::ScriptedDevice>(
                                          *wall.timeline, [](std::string_view, Reply&) { return base::Duration(0); }),
                                      {});
    port = server.port();
  }
  auto main = [](std::uint16_t unused) -> task<> {
    auto name = parse_resource_name("TCPIP::127.0.0.1::" + std::to_string(unused) + "::SOCKET");
    try {
      co_await socket::connect(name);
      FAIL("connected to nobody");
    } catch (const base::Error& error) {
      CHECK(error.record().code == base::ErrorCode::no_connection);
      CHECK_THAT(error.record().message, Catch::StartsWith("cannot connect to port"));
      CHECK(error.record().where == name.canonical());
    }
  };
  wall.run(main(port));
}

TEST_CASE("socket client: bytes that answer nothing are discarded before the next message", "[transport]") {
  test::Wall wall;
  auto device = std::make_shared<test::ScriptedDevice>(*wall.timeline, [](std::string_view message, Reply& reply) {
    reply.bytes = message == "chatty?" ? "first\nunasked" : "answer to " + std::string(message);
    return base::Duration(0);
  });
  auto main = [](std::shared_ptr<Device> served) -> task<> {
    const auto executor = co_await boost::asio::this_coro::executor;
    const socket::SocketServer server(executor, served, {});
    const auto link = co_await socket::connect(parse_resource_name(server.resource_name()));
    Buffer answer;
    co_await link->write("chatty?");
    co_await link->read(answer);
    CHECK(answer == "first");
    co_await link->write("next?");
    co_await link->read(answer);
    CHECK(answer == "answer to next?");
  };
  wall.run(main(device));
}

TEST_CASE("socket client: an indefinite block is refused, because its end cannot be seen", "[transport]") {
  test::Wall wall;
  auto device = std::make_shared<test::ScriptedDevice>(*wall.timeline, [](std::string_view, Reply& reply) {
    reply.bytes = "#0abc";
    return base::Duration(0);
  });
  auto main = [](std::shared_ptr<Device> served) -> task<> {
    const auto executor = co_await boost::asio::this_coro::executor;
    const socket::SocketServer server(executor, served, {});
    const auto link = co_await socket::connect(parse_resource_name(server.resource_name()));
    Buffer answer;
    co_await link->write("?");
    try {
      co_await link->read(answer);
      FAIL("was accepted");
    } catch (const base::Error& error) {
      CHECK(error.record().code == base::ErrorCode::bad_answer);
    }
  };
  wall.run(main(device));
}
