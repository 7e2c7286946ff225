// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/detail/bell.hpp"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/this_coro.hpp>

#include <catch2/catch.hpp>

#include "core/base/deadline.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

TEST_CASE("bell: a ring before the wait is not lost", "[transport]") {
  test::Simulated sim;
  const auto body = [&]() -> task<> {
    transport::detail::Bell bell(co_await boost::asio::this_coro::executor);
    bell.ring();
    CHECK(co_await base::finished_within(*sim.timeline, 1s, bell.wait()));
    CHECK_FALSE(co_await base::finished_within(*sim.timeline, 1s, bell.wait()));
  };
  sim.run(body());
}

TEST_CASE("bell: a ring between the cancellation and the waking stays for the next who waits", "[transport]") {
  test::Simulated sim;
  const auto body = [&]() -> task<> {
    const auto executor = co_await boost::asio::this_coro::executor;
    transport::detail::Bell bell(executor);
    boost::asio::cancellation_signal stop;
    bool threw = false;
    boost::asio::co_spawn(executor, bell.wait(),
                          boost::asio::bind_cancellation_slot(
                              stop.slot(), [&](const std::exception_ptr& error) { threw = error != nullptr; }));
    co_await sim.timeline->sleep(1s);
    stop.emit(boost::asio::cancellation_type::terminal);
    bell.ring();
    co_await sim.timeline->sleep(1s);
    CHECK(threw);
    CHECK(co_await base::finished_within(*sim.timeline, 1s, bell.wait()));
  };
  sim.run(body());
}
