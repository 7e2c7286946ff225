// SPDX-License-Identifier: Apache-2.0
// The way to the core channel; what goes wrong on it is in client_test.cpp.
#include "instruments/transport/vxi11/locate.hpp"

#include <catch2/catch.hpp>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/ip/udp.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "core/base/deadline.hpp"
#include "core/base/error.hpp"
#include "tests/instruments/transport/vxi11/scripted_instrument.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::transport::vxi11;
using namespace std::chrono_literals;
namespace asio = boost::asio;

TEST_CASE("locate: by address and by name, and the step under way is known at any time", "[transport]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    test::ScriptedInstrument instrument(co_await asio::this_coro::executor);
    std::string step;
    const auto port = instrument.options().portmapper_port;
    for (const char* host : {"127.0.0.1", "localhost"}) {
      const auto socket = co_await connect_to_core({.host = host, .resource = "r", .portmapper_port = port}, step);
      CHECK(socket.remote_endpoint().port() == instrument.core.port());
      CHECK(step == "the core channel on port " + std::to_string(instrument.core.port()));
    }
    instrument.state->most_sent = instrument.state->sent;
    auto silent = [](std::uint16_t at, std::string& during) -> task<> {
      co_await connect_to_core({.host = "127.0.0.1", .resource = "r", .portmapper_port = at}, during);
    };
    CHECK_FALSE(co_await base::finished_within(timeline, 20ms, silent(port, step)));
    CHECK(step == "the portmapper on port " + std::to_string(port));
  };
  wall.run(main(*wall.timeline));
}

TEST_CASE("locate: an instrument whose portmapper answers by UDP only is found, foreign datagrams are passed over",
          "[transport]") {
  test::Wall wall;
  auto main = []() -> task<> {
    const auto executor = co_await asio::this_coro::executor;
    test::ScriptedInstrument instrument(executor);
    asio::ip::udp::socket datagrams(executor, {asio::ip::make_address("127.0.0.1"), 0});
    auto answer = [](asio::ip::udp::socket& socket, std::uint16_t core_port) -> task<> {
      std::array<char, 200> bytes{};
      asio::ip::udp::endpoint from;
      const auto count = co_await socket.async_receive_from(asio::buffer(bytes), from, asio::use_awaitable);
      const auto found = read_call(std::string_view(bytes.data(), count));
      CHECK(found.is_call);
      std::string foreign, right;
      append_reply(foreign, found.call.xid + 1);
      append_reply(right, found.call.xid);
      XdrWriter(right).u32(core_port);
      for (const auto& reply : {std::string("short"), foreign, right})
        co_await socket.async_send_to(asio::buffer(reply), from, asio::use_awaitable);
    };
    asio::co_spawn(executor, answer(datagrams, instrument.core.port()), asio::detached);
    std::string step;
    const auto socket = co_await connect_to_core(
        {.host = "127.0.0.1", .resource = "r", .portmapper_port = datagrams.local_endpoint().port()}, step);
    CHECK(socket.remote_endpoint().port() == instrument.core.port());
  };
  wall.run(main());
}

TEST_CASE("locate: a name that nobody knows is told as the name", "[transport]") {
  test::Wall wall;
  auto main = []() -> task<> {
    std::string step;
    try {
      co_await connect_to_core({.host = "no-such-instrument.invalid", .resource = "the resource"}, step);
      FAIL("was found");
    } catch (const base::Error& error) {
      CHECK(error.record().code == base::ErrorCode::no_connection);
      CHECK(error.record().where == "the resource");
      CHECK_THAT(error.record().message, Catch::StartsWith("the name no-such-instrument.invalid cannot be resolved"));
    }
  };
  wall.run(main());
}
