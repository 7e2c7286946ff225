// SPDX-License-Identifier: Apache-2.0
#include "core/base/timeline.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>
#include <catch2/catch.hpp>

#include <thread>

#include "core/base/error.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

TEST_CASE("simulated time: forty minutes pass without waiting", "[base]") {
  test::Simulated sim;
  sim.run([](base::Timeline& t) -> task<> { co_await t.sleep(40min); }(*sim.timeline));
  CHECK(sim.timeline->now() == 40min);
}

TEST_CASE("simulated time: sleepers wake in order of due time, then of arrival", "[base]") {
  test::Simulated sim;
  std::string order;
  auto sleeper = [&](char name, base::Duration length) -> task<> {
    co_await sim.timeline->sleep(length);
    order += name;
  };
  for (const auto& [name, length] : {std::pair{'c', 3s}, {'a', 1s}, {'b', 1s}})
    boost::asio::co_spawn(sim.loop, sleeper(name, length), boost::asio::detached);
  sim.run(sleeper('z', 10s));
  CHECK(order == "abcz");
}

TEST_CASE("simulated time: everything waiting for nothing is a defect, not a hang", "[base]") {
  test::Simulated sim;
  boost::asio::steady_timer never(sim.loop, boost::asio::steady_timer::time_point::max());
  auto stuck = [](boost::asio::steady_timer& timer) -> task<> {
    co_await timer.async_wait(boost::asio::use_awaitable);
  };
  CHECK_THROWS_AS(sim.run(stuck(never)), base::Error);
  never.cancel();
  sim.loop.restart();
  sim.loop.run();
}

TEST_CASE("simulated time: does not jump while work is under way outside the loop", "[base]") {
  test::Simulated sim;
  base::Duration seen{-1};
  std::thread worker;
  auto main = [&](base::Timeline& t) -> task<> {
    auto hold = std::make_unique<base::Timeline::Hold>(t);
    worker = std::thread([&, held = std::move(hold)]() mutable {
      boost::asio::post(sim.loop, [&] { seen = sim.timeline->now(); });
      held.reset();
    });
    co_await t.sleep(1h);
  };
  sim.run(main(*sim.timeline));
  worker.join();
  CHECK(seen == 0s);
}

TEST_CASE("timeline: an exception of the main task reaches the caller of run", "[base]") {
  test::Simulated sim;
  auto failing = [](base::Timeline& t) -> task<> {
    co_await t.sleep(1s);
    throw base::Error(base::ErrorCode::stopped, "enough");
  };
  CHECK_THROWS_WITH(sim.run(failing(*sim.timeline)), "enough");
}

TEST_CASE("wall clock: sleeping takes at least its time", "[base]") {
  test::Wall wall;
  const auto before = wall.timeline->now();
  wall.run([](base::Timeline& t) -> task<> { co_await t.sleep(5ms); }(*wall.timeline));
  CHECK(wall.timeline->now() - before >= 5ms);
}

TEST_CASE("seconds: fractions, negatives and absurd lengths convert without overflow", "[base]") {
  CHECK(base::from_seconds(0.25) == 250ms);
  CHECK(base::from_seconds(-1) == -1s);
  CHECK(base::from_seconds(1e30) > 24h * 365 * 200);
  CHECK(base::to_seconds(1500ms) == Approx(1.5));
}
