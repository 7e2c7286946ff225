// SPDX-License-Identifier: Apache-2.0
// The shapes of chriskohlhoff/asio issues 858 and 1007 (destroyed twice by GCC 12) run here too, under the sanitizers.
#include "core/base/deadline.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

task<std::string> after(base::Timeline& t, base::Duration length, std::string answer) {
  co_await t.sleep(length);
  co_return answer;
}

}  // namespace

TEST_CASE("deadline: work that ends in time gives its result", "[base]") {
  test::Simulated sim;
  std::optional<std::string> got;
  sim.run([](base::Timeline& t, std::optional<std::string>& out) -> task<> {
    out = co_await base::result_within<std::string>(t, 2s, after(t, 1s, std::string(100, 'x')));
  }(*sim.timeline, got));
  CHECK(got == std::string(100, 'x'));
  CHECK(sim.timeline->now() == 1s);
}

TEST_CASE("deadline: work that is late is cancelled and has ended when the caller goes on", "[base]") {
  test::Simulated sim;
  bool ended = false;
  auto slow = [](base::Timeline& t, bool& flag) -> task<> {
    struct Mark {
      bool& flag;
      ~Mark() { flag = true; }
    } mark{flag};
    co_await t.sleep(1h);
  };
  bool in_time = true;
  sim.run([](base::Timeline& t, auto work, bool& flag, bool& out) -> task<> {
    out = co_await base::finished_within(t, 2s, work(t, flag));
    CHECK(flag);
  }(*sim.timeline, slow, ended, in_time));
  CHECK_FALSE(in_time);
  CHECK(sim.timeline->now() == 2s);
}

TEST_CASE("deadline: an error of the work is not swallowed until the alarm", "[base]") {
  test::Simulated sim;
  auto failing = [](base::Timeline& t) -> task<> {
    co_await t.sleep(1s);
    throw base::Error(base::ErrorCode::bad_answer, "garbage");
  };
  auto main = [](base::Timeline& t, auto work) -> task<> { co_await base::finished_within(t, 1h, work(t)); };
  CHECK_THROWS_WITH(sim.run(main(*sim.timeline, failing)), "garbage");
  CHECK(sim.timeline->now() == 1s);
}

TEST_CASE("deadline: an outer deadline reaches the innermost wait", "[base]") {
  test::Simulated sim;
  bool in_time = true;
  auto inner = [](base::Timeline& t) -> task<> { co_await base::finished_within(t, 1h, t.sleep(30min)); };
  sim.run([](base::Timeline& t, auto work, bool& out) -> task<> {
    out = co_await base::finished_within(t, 3s, work(t));
  }(*sim.timeline, inner, in_time));
  CHECK_FALSE(in_time);
  CHECK(sim.timeline->now() == 3s);
}

TEST_CASE("coroutines: a conditional await and a capturing lambda as argument live once", "[base]") {
  test::Simulated sim;
  std::string result;
  sim.run([](base::Timeline& t, std::string& out) -> task<> {
    const bool ask = true;
    const std::string local(64, 'q');
    const auto call = [](auto make) -> task<std::string> { co_return co_await make(); };
    out = ask ? co_await after(t, 1s, std::string(64, 'a')) : std::string();
    out += co_await call([&t, local]() -> task<std::string> { co_return co_await after(t, 1s, local); });
  }(*sim.timeline, result));
  CHECK(result == std::string(64, 'a') + std::string(64, 'q'));
}
