// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include <stdexcept>

#include "core/base/deadline.hpp"
#include "instruments/find/detail/together.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;

namespace {

task<> sleeping(base::Timeline& timeline, int seconds, int& ended) {
  co_await timeline.sleep(std::chrono::seconds(seconds));
  ++ended;
}

task<> failing() {
  throw std::runtime_error("no");
  co_return;
}

}  // namespace

TEST_CASE("together: many run at once and it ends with the last", "[find]") {
  test::Simulated simulated;
  int ended = 0;
  auto main = [&]() -> task<> {
    co_await find::detail::together({});
    std::vector<task<>> works;
    for (int i = 1; i <= 64; ++i) works.push_back(sleeping(*simulated.timeline, i, ended));
    co_await find::detail::together(std::move(works));
  };
  simulated.run(main());
  CHECK(ended == 64);
  CHECK(simulated.timeline->now() == std::chrono::seconds(64));
}

TEST_CASE("together: the first that fails ends the others; a deadline ends all", "[find]") {
  test::Simulated simulated;
  int ended = 0;
  auto main = [&]() -> task<> {
    std::vector<task<>> works;
    works.push_back(sleeping(*simulated.timeline, 10, ended));
    works.push_back(failing());
    CHECK_THROWS_AS(co_await find::detail::together(std::move(works)), std::runtime_error);
    std::vector<task<>> more;
    more.push_back(sleeping(*simulated.timeline, 10, ended));
    more.push_back(sleeping(*simulated.timeline, 1, ended));
    CHECK_FALSE(co_await base::finished_within(*simulated.timeline, std::chrono::seconds(5),
                                               find::detail::together(std::move(more))));
  };
  simulated.run(main());
  CHECK(ended == 1);
  CHECK(simulated.timeline->now() == std::chrono::seconds(5));
}
