// SPDX-License-Identifier: Apache-2.0
// Replies: RFC 1833, 3.2, typed as bytes; a system's own client asks it in tests/outside.
#include "instruments/transport/vxi11/portmapper.hpp"

#include <catch2/catch.hpp>

#include <boost/asio/ip/udp.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "core/base/error.hpp"
#include "instruments/transport/vxi11/codec.hpp"
#include "tests/instruments/transport/vxi11/raw_client.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::transport::vxi11;

namespace {

const std::vector<Mapping> served{{.program = core_program, .version = 1, .protocol = 6, .port = 1234},
                                  {.program = abort_program, .version = 1, .protocol = 6, .port = 1235}};

std::string call(PortmapperProcedure procedure, std::uint32_t version = portmapper_version,
                 std::uint32_t program = portmapper_program) {
  std::string bytes;
  append_call(bytes,
              {.xid = 5, .program = program, .version = version, .procedure = static_cast<std::uint32_t>(procedure)});
  return bytes;
}

std::string words(std::initializer_list<std::uint32_t> values) {
  std::string bytes;
  XdrWriter writer(bytes);
  for (const auto value : values) writer.u32(value);
  return bytes;
}

std::string replied(const std::string& bytes) {
  std::string reply;
  return answer_portmapper(bytes, served, reply) ? reply : "nothing";
}

std::string get_port(std::uint32_t program, std::uint32_t version, std::uint32_t protocol) {
  return replied(call(PortmapperProcedure::get_port) + words({program, version, protocol, 0}));
}

}  // namespace

TEST_CASE("portmapper: GETPORT tells the port, or 0 for what is not served", "[transport]") {
  const auto port = [](std::uint32_t value) { return words({5, 1, 0, 0, 0, 0, value}); };
  CHECK(get_port(core_program, 1, 6) == port(1234));
  CHECK(get_port(abort_program, 1, 6) == port(1235));
  CHECK(get_port(core_program, 1, 17) == port(0));
  CHECK(get_port(1, 1, 6) == port(0));
}

TEST_CASE("portmapper: NULL is empty, DUMP lists all, SET and UNSET are refused, CALLIT is silent", "[transport]") {
  const auto head = words({5, 1, 0, 0, 0, 0});
  CHECK(replied(call(PortmapperProcedure::null)) == head);
  CHECK(replied(call(PortmapperProcedure::dump)) ==
        head + words({1, core_program, 1, 6, 1234, 1, abort_program, 1, 6, 1235, 0}));
  CHECK(replied(call(PortmapperProcedure::set)) == head + words({0}));
  CHECK(replied(call(PortmapperProcedure::unset)) == head + words({0}));
  CHECK(replied(call(PortmapperProcedure::call_it)) == "nothing");
}

TEST_CASE("portmapper: other versions are told which there is, nonsense is not answered", "[transport]") {
  // rpcbind's versions 3 and 4 fall back to 2 on this.
  CHECK(replied(call(PortmapperProcedure::null, 4)) == words({5, 1, 0, 0, 0, 2, 2, 2}));
  CHECK(replied(call(PortmapperProcedure::null, 2, 99)) == words({5, 1, 0, 0, 0, 1}));
  CHECK(replied(call(static_cast<PortmapperProcedure>(77))) == words({5, 1, 0, 0, 0, 3}));
  CHECK(replied(call(PortmapperProcedure::get_port) + words({1, 2})) == words({5, 1, 0, 0, 0, 4}));
  CHECK(replied("nonsense") == "nothing");
  CHECK(replied(words({5, 1, 0})) == "nothing");
}

TEST_CASE("portmapper: answers on one port by TCP, several calls on a connection, and by UDP", "[transport]") {
  test::Wall wall;
  auto main = []() -> task<> {
    namespace asio = boost::asio;
    const auto executor = co_await asio::this_coro::executor;
    const auto address = asio::ip::make_address("127.0.0.1");
    const Portmapper portmapper(executor, address, 0, served);
    const auto client = co_await test::RawClient::connect(portmapper.port(), portmapper_program, portmapper_version);
    for (int i = 0; i < 3; ++i) CHECK(co_await client->rpc.call(3, words({core_program, 1, 6, 0})) == words({1234}));
    CHECK(co_await client->rpc.call(3, words({portmapper_program, 2, 17, 0})) == words({portmapper.port()}));
    asio::ip::udp::socket socket(executor, asio::ip::udp::endpoint(address, 0));
    const asio::ip::udp::endpoint there(address, portmapper.port());
    for (const std::string& bytes : {std::string("nonsense"), std::string(), get_port_call(9, core_program, 1)})
      co_await socket.async_send_to(asio::buffer(bytes), there, asio::use_awaitable);
    std::array<char, 100> reply{};
    const auto count = co_await socket.async_receive(asio::buffer(reply), asio::use_awaitable);
    CHECK(std::string(reply.data(), count) == words({9, 1, 0, 0, 0, 0, 1234}));
  };
  wall.run(main());
}

TEST_CASE("portmapper: a UDP port that is taken is told", "[transport]") {
  test::Wall wall;
  namespace asio = boost::asio;
  const auto address = asio::ip::make_address("127.0.0.1");
  const asio::ip::udp::socket taken(wall.loop, asio::ip::udp::endpoint(address, 0));
  try {
    const Portmapper portmapper(wall.loop.get_executor(), address, taken.local_endpoint().port(), served);
    FAIL("was served twice");
  } catch (const base::Error& error) {
    CHECK_THAT(error.record().message, Catch::StartsWith("cannot serve the portmapper here"));
  }
}
