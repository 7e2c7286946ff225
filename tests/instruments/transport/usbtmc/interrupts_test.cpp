// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/usbtmc/interrupts.hpp"

#include <catch2/catch.hpp>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>

#include "core/base/deadline.hpp"
#include "tests/instruments/transport/usbtmc/simulated_port.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::usbtmc;
using namespace std::chrono_literals;

TEST_CASE("usbtmc interrupts: answers are sorted by tag, service requests apart", "[usbtmc]") {
  test::SimulatedPort port;
  auto body = [](test::SimulatedPort& p) -> task<> {
    const auto pipe = co_await p.open()();
    Interrupts interrupts;
    co_await interrupts.watch(pipe);
    interrupts.expect(9);
    p.device->ask_for_service();
    co_await p.sim.timeline->sleep(1ms);  // the request goes out first, with RQS
    p.server->control(setup_of(Request::read_status_byte, 9, 0));
    CHECK(co_await interrupts.status(9) == 0x04);
    CHECK(co_await interrupts.wait_for_service());
    CHECK(int{interrupts.take_rqs()} == 0x40);
    CHECK(int{interrupts.take_rqs()} == 0);
    auto wait = [](Interrupts& i) -> task<> { co_await i.wait_for_service(); };
    CHECK_FALSE(co_await base::finished_within(*p.sim.timeline, 1s, wait(interrupts)));
  };
  port.sim.run(body(port));
}

TEST_CASE("usbtmc interrupts: whoever waits is told when no more can come", "[usbtmc]") {
  test::SimulatedPort port;
  auto body = [](test::SimulatedPort& p) -> task<> {
    const auto pipe = co_await p.open()();
    Interrupts interrupts;
    CHECK_FALSE(co_await interrupts.wait_for_service());  // nothing is watched
    co_await interrupts.watch(pipe);
    auto unplug_later = [](test::SimulatedPort& which) -> task<> {
      co_await which.sim.timeline->sleep(1s);
      which.server->unplug();
    };
    boost::asio::co_spawn(p.sim.loop, unplug_later(p), boost::asio::detached);
    interrupts.expect(5);
    CHECK(co_await interrupts.status(5) == 256);
    CHECK_FALSE(co_await interrupts.wait_for_service());
  };
  port.sim.run(body(port));
}
