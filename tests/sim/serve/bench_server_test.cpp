// SPDX-License-Identifier: Apache-2.0
#include "sim/serve/bench_server.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "instruments/transport/transports.hpp"
#include "sim/instrument/multimeter.hpp"
#include "sim/instrument/oscilloscope.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;
using namespace std::chrono_literals;

namespace {

std::vector<ToServe> both(base::Timeline& timeline) {
  return {{"scope", "oscilloscope", std::make_shared<SimulatedOscilloscope>(timeline, ScopeClass{}, base::Random(1)),
           transport::parse_resource_name("TCPIP::127.0.0.1::5025::SOCKET")},
          {"meter", "multimeter", std::make_shared<SimulatedMultimeter>(timeline, MeterClass{}, base::Random(1)),
           transport::parse_resource_name("TCPIP::127.0.0.1::5026::SOCKET")}};
}

}  // namespace

TEST_CASE("bench server: every instrument answers by HiSLIP under its own name, and says what is not served", "[sim]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    BenchServer server(co_await boost::asio::this_coro::executor, timeline, both(timeline), {.any_port = true});
    CHECK_FALSE(server.has_vxi11());
    REQUIRE(server.obstacles().size() == 1);
    CHECK_THAT(server.obstacles()[0], Catch::StartsWith("VXI-11 is not served"));
    transport::Transports transports;
    transport::add_hislip(transports);
    const char* identities[] = {"Eyelevel,Simulated oscilloscope,0,1.0", "Eyelevel,Simulated multimeter,0,1.0"};
    for (std::size_t i = 0; i < 2; ++i) {
      REQUIRE(server.instruments()[i].resources.size() == 2);
      const auto name = server.instruments()[i].resources[1];
      CHECK(name ==
            "TCPIP0::127.0.0.1::hislip" + std::to_string(i) + "," + std::to_string(server.hislip_port()) + "::INSTR");
      const auto session = co_await transports.open_session(name, timeline, 5s);
      CHECK(co_await session->query("*IDN?", 5s) == identities[i]);
    }
  };
  wall.run(main(*wall.timeline));
}

TEST_CASE("bench server: a whole bench answers on real ports, a second client while the first waits", "[sim]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    BenchServer server(co_await boost::asio::this_coro::executor, timeline, both(timeline), {.any_port = true});
    REQUIRE(server.instruments().size() == 2);
    CHECK(server.instruments()[0].name == "scope");
    CHECK(server.instruments()[1].kind == "multimeter");
    const auto scope_resource = server.instruments()[0].resources.at(0);
    CHECK_THAT(scope_resource, Catch::StartsWith("TCPIP0::127.0.0.1::"));

    transport::Transports transports;
    transport::add_socket(transports);
    const auto first = co_await transports.open_session(scope_resource, timeline, 5s);
    co_await first->write("TRIG:SOUR BUS;:INIT;*OPC?", 5s);
    const auto second = co_await transports.open_session(scope_resource, timeline, 5s);
    CHECK(co_await second->query("*IDN?", 5s) == "Eyelevel,Simulated oscilloscope,0,1.0");
    const auto meter = co_await transports.open_session(server.instruments()[1].resources.at(0), timeline, 5s);
    CHECK(co_await meter->query("*IDN?", 5s) == "Eyelevel,Simulated multimeter,0,1.0");
    server.stop();
    bool refused = false;
    try {
      co_await transports.open(scope_resource, timeline, 5s);
    } catch (const base::Error& error) {
      refused = error.record().code == base::ErrorCode::no_connection;
    }
    CHECK(refused);
  };
  wall.run(main(*wall.timeline));
}

TEST_CASE("bench server: a million points arrive whole over a real port", "[sim]") {
  test::Wall wall;
  auto main = [](base::Timeline& timeline) -> task<> {
    BenchServer server(co_await boost::asio::this_coro::executor, timeline, both(timeline), {.any_port = true});
    transport::Transports transports;
    transport::add_socket(transports);
    const auto session = co_await transports.open_session(server.instruments()[0].resources.at(0), timeline, 5s);
    transport::Buffer answer;
    co_await session->query("FORM REAL,32;:SWE:POIN 1000000;TINT 1E-8;:READ?", answer, 20s);
    CHECK(answer.size() == 4'000'000 + 9);
    CHECK(answer.substr(0, 9) == "#74000000");
    CHECK(co_await session->query("SYST:ERR?", 5s) == "0,\"No error\"");
  };
  wall.run(main(*wall.timeline));
}
