// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/library/hand.hpp"

#include <boost/asio/steady_timer.hpp>
#include <catch2/catch.hpp>

#include <future>
#include <memory>

#include "core/base/deadline.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;
using plugin::library::Hand;

namespace {

bool done(Hand& hand, base::Duration within, std::function<void()> work) {
  test::Simulated sim;
  bool in_time = false;
  sim.run([](Hand& h, base::Timeline& timeline, base::Duration limit, std::function<void()> what, bool& out) -> task<> {
    out = co_await h.done(timeline, limit, std::move(what));
  }(hand, *sim.timeline, within, std::move(work), in_time));
  CHECK(sim.timeline->now() == 0ns);
  return in_time;
}

}  // namespace

TEST_CASE("hand: work is done on another thread while simulated time stands still", "[plugin]") {
  Hand hand;
  const auto where = std::make_shared<std::thread::id>();
  CHECK(done(hand, 5s, [where] { *where = std::this_thread::get_id(); }));
  CHECK(*where != std::this_thread::get_id());
  CHECK(hand.done_blocking(5s, [] {}));
}

TEST_CASE(
    "hand: what takes too long is given up, what waits behind it is not begun, and it goes on when that has ended",
    "[plugin]") {
  Hand hand;
  const auto let_go = std::make_shared<std::promise<void>>();
  const auto begun = std::make_shared<std::atomic<bool>>(false);
  CHECK_FALSE(done(hand, 20ms, [let_go] { let_go->get_future().wait(); }));
  CHECK_FALSE(done(hand, 20ms, [begun] { *begun = true; }));
  let_go->set_value();
  CHECK(done(hand, 5s, [] {}));
  CHECK_FALSE(*begun);
}

TEST_CASE("hand: whoever is cancelled goes on at once", "[plugin]") {
  Hand hand;
  const auto let_go = std::make_shared<std::promise<void>>();
  test::Wall wall;
  bool in_time = true;
  wall.run([](Hand& h, base::Timeline& timeline, std::shared_ptr<std::promise<void>> until, bool& out) -> task<> {
    auto wait = [](Hand& inner, base::Timeline& time, std::shared_ptr<std::promise<void>> promise) -> task<> {
      co_await inner.done(time, 1h, [promise] { promise->get_future().wait(); });
    };
    out = co_await base::finished_within(timeline, 20ms, wait(h, timeline, until));
  }(hand, *wall.timeline, let_go, in_time));
  CHECK_FALSE(in_time);
  let_go->set_value();
}

TEST_CASE("hand: one that is stuck does not keep the program from ending", "[plugin]") {
  const auto let_go = std::make_shared<std::promise<void>>();
  const auto gone = std::make_shared<std::promise<void>>();
  {
    Hand hand;
    CHECK_FALSE(done(hand, 20ms, [let_go, gone] {
      let_go->get_future().wait();
      gone->set_value();
    }));
  }
  let_go->set_value();
  gone->get_future().wait();
}
