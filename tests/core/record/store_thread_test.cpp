// SPDX-License-Identifier: Apache-2.0
#include "core/record/journal/store_thread.hpp"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/post.hpp>

#include <catch2/catch.hpp>

#include <atomic>
#include <future>
#include <stdexcept>
#include <thread>

#include "tests/support/run_task.hpp"

using namespace eyelevel;
using record::StoreThread;

namespace {

task<> do_three(StoreThread& thread, base::Timeline& timeline, std::vector<int>& order, std::thread::id& where) {
  for (int i = 0; i < 3; ++i) {
    co_await thread.done(timeline, [&, i] {
      order.push_back(i);
      where = std::this_thread::get_id();
    });
  }
}

task<> expect_failure(StoreThread& thread, base::Timeline& timeline, bool& caught) {
  try {
    co_await thread.done(timeline, [] { throw std::runtime_error("full"); });
  } catch (const std::runtime_error& e) {
    caught = std::string(e.what()) == "full";
  }
}

task<> note_after(base::Timeline& timeline, base::Duration when, std::vector<std::string>& seen) {
  co_await timeline.sleep_until(when);
  seen.push_back("an hour passed");
}

task<> work_held(StoreThread& thread, base::Timeline& timeline, std::shared_future<void> gate,
                 std::vector<std::string>& seen) {
  co_await thread.done(timeline, [gate] { gate.wait(); });
  seen.push_back("stored");
}

}  // namespace

TEST_CASE("store thread: does its work in order, away from the loop", "[record]") {
  test::Simulated simulated;
  StoreThread thread;
  std::vector<int> order;
  std::thread::id where;
  simulated.run(do_three(thread, *simulated.timeline, order, where));
  CHECK(order == std::vector<int>{0, 1, 2});
  CHECK(where != std::this_thread::get_id());
}

TEST_CASE("store thread: an exception of the work reaches whoever waits", "[record]") {
  test::Wall wall;
  StoreThread thread;
  bool caught = false;
  wall.run(expect_failure(thread, *wall.timeline, caught));
  CHECK(caught);
}

TEST_CASE("store thread: simulated time stands still while it works", "[record]") {
  test::Simulated simulated;
  StoreThread thread;
  std::promise<void> open;
  std::vector<std::string> seen;
  boost::asio::co_spawn(simulated.loop, note_after(*simulated.timeline, std::chrono::hours(1), seen),
                        [](std::exception_ptr) {});
  // The gate opens only after the loop had every chance to jump: it is opened by a task that runs while the work waits.
  boost::asio::post(simulated.loop, [&] {
    boost::asio::post(simulated.loop, [&] { boost::asio::post(simulated.loop, [&] { open.set_value(); }); });
  });
  simulated.run(work_held(thread, *simulated.timeline, open.get_future().share(), seen));
  REQUIRE_FALSE(seen.empty());
  CHECK(seen.front() == "stored");
  CHECK(simulated.timeline->now() == base::Duration(0));
}

TEST_CASE("store thread: cancelling whoever waits does not abandon the work", "[record]") {
  test::Simulated simulated;
  StoreThread thread;
  std::promise<void> open;
  std::vector<std::string> seen;
  boost::asio::cancellation_signal cancel;
  std::exception_ptr end;
  boost::asio::co_spawn(simulated.loop, work_held(thread, *simulated.timeline, open.get_future().share(), seen),
                        boost::asio::bind_cancellation_slot(cancel.slot(), [&](std::exception_ptr e) { end = e; }));
  boost::asio::post(simulated.loop, [&] {
    boost::asio::post(simulated.loop, [&] {
      cancel.emit(boost::asio::cancellation_type::terminal);
      open.set_value();
    });
  });
  simulated.loop.run();
  CHECK(seen == std::vector<std::string>{"stored"});
  CHECK_FALSE(end);
}

TEST_CASE("store thread: settle returns only when what was given before has left the thread", "[record]") {
  StoreThread thread;
  test::Simulated sim;
  std::promise<void> gate;
  std::atomic<bool> done{false};
  bool told = false;
  auto wait_at_gate = [](StoreThread& store, base::Timeline& timeline, std::promise<void>& until,
                         std::atomic<bool>& flag, bool& end) -> task<> {
    co_await store.done(timeline, [&] {
      until.get_future().wait();
      flag = true;
    });
    end = true;
  };
  boost::asio::co_spawn(sim.loop, wait_at_gate(thread, *sim.timeline, gate, done, told), boost::asio::detached);
  sim.loop.poll();  // the work is with the thread now
  std::thread opener([&] { gate.set_value(); });
  thread.settle();
  CHECK(done);
  opener.join();
  sim.loop.restart();
  while (!told) sim.loop.run_one();  // NOLINT(bugprone-infinite-loop): the coroutine above sets it
}
