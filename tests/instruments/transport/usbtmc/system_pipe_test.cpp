// SPDX-License-Identifier: Apache-2.0
// The node of the system's driver: opened by path or because libusb may not, unplugged. What a link on it
// promises is held by tests/contract (contract.system_usb).
#include "instruments/transport/usbtmc/system_pipe.hpp"

#include <catch2/catch.hpp>

#include <boost/asio/thread_pool.hpp>

#include "core/base/deadline.hpp"
#include "instruments/transport/transports.hpp"
#include "instruments/transport/usbtmc/conversation.hpp"
#include "instruments/transport/usbtmc/server.hpp"
#include "instruments/transport/usbtmc/simulated_pipe.hpp"
#include "tests/instruments/transport/usbtmc/mocked_system_node.hpp"
#include "tests/instruments/transport/usbtmc/simulated_port.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::usbtmc;
using namespace std::chrono_literals;

namespace {

constexpr base::Duration generous = 20s;

struct Bench {
  test::Wall wall;
  std::shared_ptr<test::UsbInstrument> device = std::make_shared<test::UsbInstrument>(*wall.timeline);
  std::shared_ptr<UsbtmcServer> server =
      std::make_shared<UsbtmcServer>(wall.loop.get_executor(), device, ServerOptions{});
  test::MockedSystemNode node{wall.loop.get_executor(), simulated_pipe(server)};
};

using Body = task<> (*)(Bench&);
void run(Body body) {
  Bench bench;
  bench.wall.run(body(bench));
}

task<base::ErrorRecord> refusal(const Transports& transports, Bench& bench, std::string name) {
  try {
    co_await transports.open(std::move(name), *bench.wall.timeline, generous);
  } catch (const base::Error& error) {
    co_return error.record();
  }
  FAIL("it was opened");
  co_return base::ErrorRecord{};
}

}  // namespace

TEST_CASE(
    "system usb: opened by its path it answers, with blocks of megabytes and blocks that fill the driver's pieces",
    "[usbtmc]") {
  run([](Bench& bench) -> task<> {
    Transports transports;
    add_usbtmc(transports);
    const auto session = co_await transports.open_session("USB/dev/usbtmc0", *bench.wall.timeline, generous);
    CHECK(session->resource_name() == "USB/dev/usbtmc0::INSTR");
    CHECK(co_await session->query("*IDN?", generous) == "answer to *IDN?");
    Buffer answer;
    for (const std::size_t size : {0U, 488U, 489U, 4067U, 4068U, 4077U, 4078U, 4079U, 8173U, 8174U, 3'000'000U}) {
      CAPTURE(size);
      co_await session->query("BLOC? " + std::to_string(size), answer, generous);
      std::string expected;
      scpi::append_block(expected, test::bytes_of(size));
      CHECK((answer == expected));
    }
  });
}

TEST_CASE("system usb: where libusb has no such instrument, the node with its numbers is used", "[usbtmc]") {
  run([](Bench& bench) -> task<> {
    Transports transports;
    add_usbtmc(transports);
    const auto session =
        co_await transports.open_session("USB::0x1234::0x5678::EY-0001", *bench.wall.timeline, generous);
    CHECK(co_await session->query("*IDN?", generous) == "answer to *IDN?");
  });
}

TEST_CASE("system usb: a read that waits is not given up while messages go out, and has the answer", "[usbtmc]") {
  run([](Bench& bench) -> task<> {
    const auto threads = std::make_shared<boost::asio::thread_pool>(4);
    const auto pipe = co_await open_system_node(threads, parse_resource_name("USB/dev/usbtmc0"));
    PacketRead packet;
    co_await packet.start(pipe);
    const auto send = [&pipe](const std::string& transfer) { return pipe->bulk_out(transfer); };
    std::uint8_t tag = 0;
    for (const std::string message : {"A", "B", "C", "D", "E", "F", "G", "H", "*IDN?"}) {
      std::string transfer;
      append_message_out(transfer, ++tag, message, true);
      CHECK((co_await send(transfer)).trouble == Trouble::none);
    }
    std::string request;
    append_request_in(request, ++tag, 400);
    CHECK((co_await send(request)).trouble == Trouble::none);
    const auto moved = co_await base::result_within(*bench.wall.timeline, generous, packet.take(pipe));
    REQUIRE(moved);
    CHECK(packet.bytes().substr(header_bytes, 15) == "answer to *IDN?");
    CHECK(bench.node.cleanups() == 0);
    pipe->close();
  });
}

TEST_CASE("system usb: what is no node, and one that is unplugged, is told", "[usbtmc]") {
  run([](Bench& bench) -> task<> {
    Transports transports;
    add_usbtmc(transports);
    const auto missing = co_await refusal(transports, bench, "USB/dev/usbtmc7");
    CHECK(missing.code == base::ErrorCode::no_connection);
    CHECK(missing.where == "USB/dev/usbtmc7::INSTR");
    CHECK(missing.message == "/dev/usbtmc7 is not there");
    const auto other = co_await refusal(transports, bench, "USB/dev/null");
    CHECK(other.message == "it is no node of the system's driver for USBTMC, or that driver is too old");

    const auto session = co_await transports.open_session("USB/dev/usbtmc0", *bench.wall.timeline, generous);
    bench.node.unplug();
    bool lost = false;
    try {
      co_await session->query("*IDN?", generous);
    } catch (const base::Error& error) {
      lost = error.record().code == base::ErrorCode::connection_lost;
    }
    CHECK(lost);
  });
}
