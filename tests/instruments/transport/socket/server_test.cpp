// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/socket/server.hpp"

#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "instruments/transport/session.hpp"
#include "instruments/transport/socket/client.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_device.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace std::chrono_literals;

namespace {

std::shared_ptr<test::ScriptedDevice> waits_on_request(base::Timeline& timeline) {
  return std::make_shared<test::ScriptedDevice>(timeline, [](std::string_view message, Reply& reply) -> base::Duration {
    reply.bytes = message;
    return message == "long?" ? 1h : 0h;
  });
}

}  // namespace

TEST_CASE("socket server: a second client is answered while the first waits", "[transport]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline, std::shared_ptr<Device> served) -> task<> {
    const auto executor = co_await boost::asio::this_coro::executor;
    socket::SocketServer server(executor, served, {});
    const auto name = parse_resource_name(server.resource_name());
    const auto first = co_await socket::connect(name);
    co_await first->write("long?");
    Session second(timeline, co_await socket::connect(name));
    CHECK(co_await second.query("short?", 5s) == "short?");
    CHECK(server.clients() == 2);
  };
  wall.run(main(*wall.timeline, waits_on_request(*wall.timeline)));
}

TEST_CASE("socket server: a client that goes away cancels what it had under way", "[transport]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline, std::shared_ptr<Device> served) -> task<> {
    const auto executor = co_await boost::asio::this_coro::executor;
    socket::SocketServer server(executor, served, {});
    const auto name = parse_resource_name(server.resource_name());
    {
      const auto first = co_await socket::connect(name);
      co_await first->write("long?");
      Session probe(timeline, co_await socket::connect(name));
      co_await probe.query("is the first one served?", 5s);
    }
    // Both conversations end although one of them was to take an hour.
    while (server.clients() > 0) co_await timeline.sleep(1ms);
    CHECK(server.clients() == 0);
  };
  wall.run(main(*wall.timeline, waits_on_request(*wall.timeline)));
}

TEST_CASE("socket server: messages sent without waiting are answered in their order", "[transport]") {
  test::Wall wall;
  auto main = [](std::shared_ptr<Device> served) -> task<> {
    const auto executor = co_await boost::asio::this_coro::executor;
    socket::SocketServer server(executor, served, {});
    const auto link = co_await socket::connect(parse_resource_name(server.resource_name()));
    co_await link->write("a?\nb?\nc?");
    for (const char* expected : {"a?", "b?", "c?"}) {
      Buffer answer;
      co_await link->read(answer);
      CHECK(answer == expected);
    }
  };
  wall.run(main(waits_on_request(*wall.timeline)));
}

TEST_CASE("socket server: a port that is taken is told with its number", "[transport]") {
  test::Wall wall;
  const auto device = waits_on_request(*wall.timeline);
  const socket::SocketServer first(wall.loop.get_executor(), device, {});
  try {
    const socket::SocketServer second(wall.loop.get_executor(), device, {"127.0.0.1", first.port(), 1000});
    FAIL("the port was served twice");
  } catch (const base::Error& error) {
    CHECK(error.record().code == base::ErrorCode::no_connection);
    CHECK(error.record().where == "127.0.0.1 port " + std::to_string(first.port()));
  }
}

namespace {

// A control connection as a stranger would hold it.
class ControlClient {
 public:
  explicit ControlClient(boost::asio::any_io_executor executor) : socket_(executor) {}

  task<> connect(std::uint16_t port) {
    co_await socket_.async_connect({boost::asio::ip::make_address("127.0.0.1"), port}, boost::asio::use_awaitable);
  }
  task<> send(std::string text) {
    co_await boost::asio::async_write(socket_, boost::asio::buffer(text), boost::asio::use_awaitable);
  }
  task<std::string> line() {
    const std::size_t size = co_await boost::asio::async_read_until(socket_, boost::asio::dynamic_buffer(inbox_), '\n',
                                                                    boost::asio::use_awaitable);
    std::string out = inbox_.substr(0, size);
    inbox_.erase(0, size);
    co_return out;
  }

 private:
  boost::asio::ip::tcp::socket socket_;
  std::string inbox_;
};

}  // namespace

TEST_CASE("socket server: DCL on the control connection ends what is executed, and is echoed", "[transport]") {
  test::Wall wall;
  auto device = waits_on_request(*wall.timeline);
  auto main = [](std::shared_ptr<test::ScriptedDevice> served) -> task<> {
    const auto executor = co_await boost::asio::this_coro::executor;
    socket::SocketServer server(executor, served, {});
    const auto link = co_await socket::connect(parse_resource_name(server.resource_name()));
    co_await link->write("long?");
    ControlClient control(executor);
    co_await control.connect(server.control_port());
    for (const char* text : {"nonsense\n", "DCL\n", "DCL\r\n"}) co_await control.send(text);
    CHECK(co_await control.line() == "DCL\n");
    CHECK(co_await control.line() == "DCL\n");
    CHECK(served->clears == 2);
    // The same connection goes on, and the cleared query is never answered.
    Buffer answer;
    co_await link->write("short?");
    co_await link->read(answer);
    CHECK(answer == "short?");
  };
  wall.run(main(device));
}

TEST_CASE("socket server: a line without end on the control connection ends that connection only", "[transport]") {
  test::Wall wall;
  auto main = [](std::shared_ptr<Device> served) -> task<> {
    const auto executor = co_await boost::asio::this_coro::executor;
    socket::SocketServer server(executor, served, {});
    const auto link = co_await socket::connect(parse_resource_name(server.resource_name()));
    ControlClient control(executor);
    co_await control.connect(server.control_port());
    co_await control.send(std::string(1000, 'D'));
    bool closed = false;
    try {
      co_await control.line();
    } catch (const boost::system::system_error&) {
      closed = true;
    }
    CHECK(closed);
    Buffer answer;
    co_await link->write("short?");
    co_await link->read(answer);
    CHECK(answer == "short?");
  };
  wall.run(main(waits_on_request(*wall.timeline)));
}
