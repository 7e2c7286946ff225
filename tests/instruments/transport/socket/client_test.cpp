// SPDX-License-Identifier: Apache-2.0
// What only sockets do; what they share with all other transports is in tests/contract.
#include "instruments/transport/socket/client.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>
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

namespace {

// A peer that has sent `unasked` before anything is asked, and then answers one message by its size.
task<> query_after(std::string unasked, std::string message, Buffer& answer) {
  using boost::asio::ip::tcp;
  const auto executor = co_await boost::asio::this_coro::executor;
  tcp::acceptor acceptor(executor, {boost::asio::ip::address_v4::loopback(), 0});
  const auto link = co_await socket::connect(
      parse_resource_name("TCPIP::127.0.0.1::" + std::to_string(acceptor.local_endpoint().port()) + "::SOCKET"));
  tcp::socket peer = co_await acceptor.async_accept(boost::asio::use_awaitable);
  boost::asio::write(peer, boost::asio::buffer(unasked));
  const auto answer_one = [](tcp::socket& at) -> task<> {
    std::string asked;
    co_await boost::asio::async_read_until(at, boost::asio::dynamic_buffer(asked), '\n', boost::asio::use_awaitable);
    const std::string answer = std::to_string(asked.size() - 1) + " bytes\n";
    co_await boost::asio::async_write(at, boost::asio::buffer(answer), boost::asio::use_awaitable);
  };
  boost::asio::co_spawn(executor, answer_one(peer), boost::asio::detached);
  co_await link->query(message, answer);
}

// The buffer holds an answer of that many bytes from before.
std::string answer_after(const std::string& unasked, const std::string& message, std::size_t before) {
  test::Wall wall;
  Buffer answer(before, 'o');
  try {
    wall.run(query_after(unasked, message, answer));
  } catch (...) {
    CHECK(answer.empty());  // nothing of the answer before
    throw;
  }
  return answer;
}

constexpr std::size_t large = 150000;

}  // namespace

TEST_CASE("socket client: what came before a query is not its answer, however short or long the query", "[transport]") {
  const std::size_t before = GENERATE(std::size_t{0}, large);
  CHECK(answer_after("", "next?", before) == "5 bytes");
  CHECK(answer_after("late\n", "next?", before) == "5 bytes");
  CHECK(answer_after("late", "next?", before) == "5 bytes");
  CHECK(answer_after(std::string(20000, '\n'), "next?", before) == "5 bytes");
  CHECK(answer_after("late\n", std::string(100000, 'x'), before) == "100000 bytes");
}

TEST_CASE("socket client: more unasked bytes than one look takes are an error, not an answer", "[transport]") {
  const std::size_t before = GENERATE(std::size_t{0}, large);
  try {
    answer_after(std::string(200000, '\n'), "next?", before);
    FAIL("was taken for an answer");
  } catch (const base::Error& error) {
    CHECK(error.record().code == base::ErrorCode::bad_answer);
    CHECK_THAT(error.record().message, Catch::Contains("that nobody had asked for"));
  }
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
