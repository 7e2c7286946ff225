// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include <boost/asio/buffer.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "core/base/deadline.hpp"
#include "instruments/find/mdns/group_socket.hpp"
#include "instruments/transport/error.hpp"
#include "tests/instruments/find/mdns/loopback.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::find;
using boost::asio::ip::udp;

namespace {

task<> receive(udp::socket& socket, std::string& into, udp::endpoint& from) {
  into.resize(100);
  into.resize(co_await socket.async_receive_from(boost::asio::buffer(into), from, boost::asio::use_awaitable));
}

}  // namespace

TEST_CASE("mDNS sockets: two programs share the port; both get what an asker sends, the asker gets answers", "[find]") {
  test::Wall wall;
  const auto interface = test::loopback().at(0);
  const auto port = test::free_port(wall.loop);
  const auto executor = wall.loop.get_executor();
  auto asker = mdns::open_asker(executor, interface, mdns::Family::v4);
  auto one = mdns::open_member(executor, interface, mdns::Family::v4, port);
  auto other = mdns::open_member(executor, interface, mdns::Family::v4, port);
  const auto group = mdns::group(interface, mdns::Family::v4, port);
  auto main = [&]() -> task<> {
    asker.send_to(boost::asio::buffer("query", 5), group);
    for (auto* member : {&one, &other}) {
      std::string got;
      udp::endpoint from;
      CHECK(co_await base::finished_within(*wall.timeline, std::chrono::seconds(5), receive(*member, got, from)));
      CHECK(got == "query");
      CHECK(from == asker.local_endpoint());
      member->send_to(boost::asio::buffer("answer", 6), from);
      CHECK(co_await base::finished_within(*wall.timeline, std::chrono::seconds(5), receive(asker, got, from)));
      CHECK(got == "answer");
      CHECK(from.port() == port);  // RFC 6762, 6.7 and 11: answers come from the port of multicast DNS
    }
    // Loopback's address, whatever other interfaces there are.
    std::string got;
    udp::endpoint from;
    one.send_to(boost::asio::buffer("to all", 6), group);
    CHECK(co_await base::finished_within(*wall.timeline, std::chrono::seconds(5), receive(other, got, from)));
    CHECK(got == "to all");
    CHECK(from == udp::endpoint(interface.v4[0].address, port));
  };
  wall.run(main());
}

TEST_CASE("mDNS sockets: an interface that does not exist is refused with its name", "[find]") {
  test::Wall wall;
  Interface none;
  none.name = "gone0";
  none.index = 999999;
  none.v4.push_back({boost::asio::ip::make_address_v4("203.0.113.9"), {}, std::nullopt});
  CHECK(mdns::has(none, mdns::Family::v4));
  CHECK_FALSE(mdns::has(none, mdns::Family::v6));
  for (const bool member : {false, true}) {
    try {
      if (member)
        mdns::open_member(wall.loop.get_executor(), none, mdns::Family::v4, test::free_port(wall.loop));
      else
        mdns::open_asker(wall.loop.get_executor(), none, mdns::Family::v4);
      FAIL("it was opened");
    } catch (const transport::TransportError& error) {
      CHECK(error.record().where == "interface gone0");
      CHECK(error.record().code == base::ErrorCode::no_connection);
    }
  }
}
