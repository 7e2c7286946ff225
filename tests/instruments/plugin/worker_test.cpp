// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/worker.hpp"

#include <boost/system/system_error.hpp>
#include <catch2/catch.hpp>

#include <stdexcept>
#include <thread>

#include "core/base/deadline.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

TEST_CASE("worker: what it does is done on its own thread while simulated time stands still", "[plugin]") {
  plugin::Worker worker;
  test::Simulated sim;
  std::thread::id there;
  sim.run([](plugin::Worker& w, base::Timeline& timeline, std::thread::id& out) -> task<> {
    const std::function<task<>()> work = [&]() -> task<> {
      co_await w.timeline().sleep(20ms);
      out = std::this_thread::get_id();
    };
    co_await w.done(timeline, work);
  }(worker, *sim.timeline, there));
  CHECK(there != std::thread::id());
  CHECK(there != std::this_thread::get_id());
  CHECK(sim.timeline->now() == 0ns);
}

TEST_CASE("worker: an exception comes to whoever waits", "[plugin]") {
  plugin::Worker worker;
  const std::function<task<>()> work = []() -> task<> {
    throw std::runtime_error("so");
    co_return;
  };
  CHECK_THROWS_WITH(worker.done_blocking(work), "so");
  test::Wall wall;
  CHECK_THROWS_WITH(wall.run(worker.done(*wall.timeline, work)), "so");
}

TEST_CASE("worker: cancellation reaches the work and waits for its end", "[plugin]") {
  plugin::Worker worker;
  test::Wall wall;
  bool has_ended = false, in_time = true;
  const std::function<task<>()> work = [&]() -> task<> {
    try {
      co_await worker.timeline().sleep(1h);
    } catch (const boost::system::system_error&) {
      has_ended = true;
      throw;
    }
  };
  wall.run([](plugin::Worker& w, base::Timeline& timeline, const std::function<task<>()>& what, bool& out) -> task<> {
    out = co_await base::finished_within(timeline, 20ms, w.done(timeline, what));
  }(worker, *wall.timeline, work, in_time));
  CHECK_FALSE(in_time);
  CHECK(has_ended);
}
