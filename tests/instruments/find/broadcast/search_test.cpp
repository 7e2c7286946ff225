// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include <boost/asio/buffer.hpp>
#include <boost/asio/ip/udp.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "instruments/find/broadcast/search.hpp"
#include "instruments/find/detail/together.hpp"
#include "instruments/transport/vxi11/codec.hpp"
#include "instruments/transport/vxi11/codec_rpc.hpp"
#include "instruments/transport/vxi11/codec_xdr.hpp"
#include "tests/instruments/find/mdns/loopback.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::find;
namespace vxi11 = eyelevel::transport::vxi11;
namespace ip = boost::asio::ip;
using ip::udp;

namespace {

struct Ended {};

// A portmapper on loopback that answers a GETPORT call with these datagrams, each made from the call's xid.
broadcast::Searched searched(const std::function<std::vector<std::string>(std::uint32_t)>& answers, int& calls) {
  test::Wall wall;
  udp::socket portmapper(wall.loop, udp::endpoint(ip::address_v4::loopback(), 0));
  const auto port = portmapper.local_endpoint().port();
  broadcast::Searched found;
  auto serve = [&]() -> task<> {
    for (std::string bytes;;) {
      bytes.assign(1000, '\0');
      udp::endpoint from;
      bytes.resize(
          co_await portmapper.async_receive_from(boost::asio::buffer(bytes), from, boost::asio::use_awaitable));
      // RFC 1833, 3: 56 bytes; version 2 of program 100000, procedure 3, for VXI-11's core channel by TCP.
      const auto call = vxi11::read_call(bytes);
      vxi11::Mapping wanted;
      CHECK(call.is_call);
      CHECK(bytes.size() == 56);
      CHECK(call.call.program == 100000);
      CHECK(call.call.procedure == 3);
      CHECK(vxi11::read_mapping(call.arguments, wanted));
      CHECK(wanted.program == 395183);
      CHECK(wanted.version == 1);
      CHECK(wanted.protocol == 6);
      ++calls;
      for (const auto& answer : answers(call.call.xid)) portmapper.send_to(boost::asio::buffer(answer), from);
    }
  };
  auto look = [&]() -> task<> {
    found = co_await broadcast::search(*wall.timeline, test::loopback(), std::chrono::milliseconds(600), port);
    throw Ended();
  };
  auto main = [&]() -> task<> {
    std::vector<task<>> works;
    works.push_back(serve());
    works.push_back(look());
    try {
      co_await find::detail::together(std::move(works));
    } catch (const Ended&) {
      co_return;
    }
  };
  wall.run(main());
  return found;
}

std::string reply(std::uint32_t xid, std::uint32_t port) {
  std::string out;
  vxi11::append_reply(out, xid);
  vxi11::XdrWriter(out).u32(port);
  return out;
}

}  // namespace

TEST_CASE("VXI-11 broadcast: a portmapper that knows the core channel is found once, however often it answers",
          "[find]") {
  int calls = 0;
  const auto found = searched([](std::uint32_t xid) { return std::vector{reply(xid, 1024), reply(xid, 1024)}; }, calls);
  CHECK(found.hosts == std::vector<ip::address_v4>{ip::make_address_v4("127.0.0.1")});
  CHECK(found.obstacles.empty());
  CHECK(calls == 2);  // at 0 and 0.4 s of 0.6 s
}

TEST_CASE("VXI-11 broadcast: a portmapper without instrument, and what is no answer to the question, finds nothing",
          "[find]") {
  int calls = 0;
  const auto found = searched(
      [](std::uint32_t xid) {
        std::string unavailable, denied;
        vxi11::append_reply(unavailable, xid, vxi11::AcceptState::program_unavailable);
        vxi11::append_denied(denied, xid);
        return std::vector{reply(xid, 0),
                           reply(xid + 100, 1024),
                           reply(xid, 0x10000),
                           std::string(),
                           std::string("\xFF"),
                           reply(xid, 1024).substr(0, 27),
                           unavailable,
                           denied,
                           std::string(4000, '\xFF')};
      },
      calls);
  CHECK(found.hosts.empty());
  CHECK(calls == 2);
}

TEST_CASE("VXI-11 broadcast: an interface whose address is gone is told with its name", "[find]") {
  test::Wall wall;
  Interface gone;
  gone.name = "gone0";
  gone.up = true;
  gone.v4.push_back(
      {ip::make_address_v4("203.0.113.9"), ip::make_address_v4("255.255.255.0"), ip::make_address_v4("203.0.113.255")});
  broadcast::Searched found;
  auto main = [&]() -> task<> {
    found = co_await broadcast::search(*wall.timeline, {gone}, std::chrono::milliseconds(10), 1);
  };
  wall.run(main());
  REQUIRE(found.obstacles.size() == 1);
  CHECK(found.obstacles[0].find("interface gone0: cannot ask by broadcast: ") == 0);
}
