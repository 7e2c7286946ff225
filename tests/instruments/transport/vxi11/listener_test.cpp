// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/vxi11/listener.hpp"

#include <catch2/catch.hpp>

#include <boost/asio/error.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <array>

#include "core/base/error.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::transport::vxi11;
using namespace std::chrono_literals;
namespace asio = boost::asio;

namespace {

const ListenOn here{.address = asio::ip::make_address("127.0.0.1"), .port = 0, .what = "a test"};

task<> until_closed(asio::ip::tcp::socket socket) {
  std::array<char, 16> bytes{};
  for (;;) co_await socket.async_read_some(asio::buffer(bytes), asio::use_awaitable);
}

task<> serve(asio::ip::tcp::socket socket) {
  try {
    co_await until_closed(std::move(socket));
  } catch (const boost::system::system_error& error) {
    if (error.code() == asio::error::operation_aborted) throw;
  }
}

task<asio::ip::tcp::socket> client_of(const Listener& listener) {
  asio::ip::tcp::socket socket(co_await asio::this_coro::executor);
  co_await socket.async_connect({here.address, listener.port()}, asio::use_awaitable);
  co_return socket;
}

}  // namespace

TEST_CASE("listener: counts its clients, turns away those beyond the limit, and stops all", "[transport]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    ListenOn two = here;
    two.most_clients = 2;
    Listener listener(co_await asio::this_coro::executor, two, serve);
    auto first = co_await client_of(listener);
    auto second = co_await client_of(listener);
    auto third = co_await client_of(listener);
    std::array<char, 16> bytes{};
    boost::system::error_code closed;
    try {
      co_await third.async_read_some(asio::buffer(bytes), asio::use_awaitable);
    } catch (const boost::system::system_error& error) {
      closed = error.code();
    }
    CHECK(closed == asio::error::eof);
    CHECK(listener.clients() == 2);
    first.close();
    while (listener.clients() > 1) co_await timeline.sleep(1ms);
    listener.stop();
    while (listener.clients() > 0) co_await timeline.sleep(1ms);
  };
  wall.run(main(*wall.timeline));
}

TEST_CASE("listener: why a port cannot be had is told with what to do", "[transport]") {
  const auto told = [](std::uint16_t port, const boost::system::error_code& error) {
    ListenOn on = here;
    on.port = port;
    on.what = "the portmapper";
    try {
      fail_to_serve(on, error);
    } catch (const base::Error& failure) {
      return failure.record();
    }
  };
  const auto system_portmapper = told(111, asio::error::address_in_use);
  CHECK(system_portmapper.where == "127.0.0.1 port 111");
  CHECK_THAT(system_portmapper.message, Catch::Contains("this computer's own portmapper"));
  CHECK_THAT(system_portmapper.advice, Catch::Contains("systemctl stop rpcbind"));
  CHECK_THAT(told(111, asio::error::access_denied).advice, Catch::Contains("cap_net_bind_service"));
  CHECK_THAT(told(5025, asio::error::address_in_use).advice, Catch::Contains("choose another port"));
}
