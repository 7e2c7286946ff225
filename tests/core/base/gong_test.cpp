// SPDX-License-Identifier: Apache-2.0
#include "core/base/gong.hpp"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/this_coro.hpp>

#include <catch2/catch.hpp>

#include "core/base/deadline.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

task<> count_strokes(base::Gong& gong, int strokes, int& heard) {
  for (int i = 0; i < strokes; ++i) {
    co_await gong.wait();
    ++heard;
  }
}

}  // namespace

TEST_CASE("gong: everyone who waits hears a stroke, and one that nobody hears is lost", "[base]") {
  test::Simulated sim;
  base::Gong gong;
  int heard = 0;
  const auto body = [&]() -> task<> {
    gong.strike();
    const auto executor = co_await boost::asio::this_coro::executor;
    for (int i = 0; i < 3; ++i) boost::asio::co_spawn(executor, count_strokes(gong, 2, heard), boost::asio::detached);
    co_await sim.timeline->sleep(1s);
    CHECK(heard == 0);
    gong.strike();
    co_await sim.timeline->sleep(1s);
    CHECK(heard == 3);
    gong.strike();
    co_await sim.timeline->sleep(1s);
    CHECK(heard == 6);
  };
  sim.run(body());
}

TEST_CASE("gong: a wait can be cancelled, and the gong forgets it", "[base]") {
  test::Simulated sim;
  base::Gong gong;
  int heard = 0;
  const auto body = [&]() -> task<> {
    CHECK_FALSE(co_await base::finished_within(*sim.timeline, 1s, gong.wait()));
    gong.strike();
    CHECK_FALSE(co_await base::finished_within(*sim.timeline, 1s, count_strokes(gong, 1, heard)));
    CHECK(heard == 0);
  };
  sim.run(body());
}

TEST_CASE("gong: a wait that is cancelled throws, though a stroke comes before it wakes", "[base]") {
  test::Simulated sim;
  base::Gong gong;
  int heard = 0;
  const auto body = [&]() -> task<> {
    boost::asio::cancellation_signal stop;
    bool threw = false;
    boost::asio::co_spawn(co_await boost::asio::this_coro::executor, count_strokes(gong, 1, heard),
                          boost::asio::bind_cancellation_slot(
                              stop.slot(), [&](const std::exception_ptr& error) { threw = error != nullptr; }));
    co_await sim.timeline->sleep(1s);
    stop.emit(boost::asio::cancellation_type::terminal);
    gong.strike();
    co_await sim.timeline->sleep(1s);
    CHECK(threw);
    CHECK(heard == 0);
  };
  sim.run(body());
}

TEST_CASE("gong: whoever waits on a gong that goes away is woken", "[base]") {
  test::Simulated sim;
  auto gong = std::make_unique<base::Gong>();
  int heard = 0;
  const auto body = [&]() -> task<> {
    boost::asio::co_spawn(co_await boost::asio::this_coro::executor, count_strokes(*gong, 1, heard),
                          boost::asio::detached);
    co_await sim.timeline->sleep(1s);
    gong.reset();
    co_await sim.timeline->sleep(1s);
    CHECK(heard == 1);
  };
  sim.run(body());
}
