// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/house.hpp"

#include <catch2/catch.hpp>

#include "tests/support/error_in.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;

TEST_CASE("house: a full store keeps what came before, and refuses everything from then on", "[sim]") {
  const auto inner = record::open_memory_store();
  sim::FullStore store(*inner, 2);
  const std::string run = store.reserve_run({});
  event::Event event;
  event.run = run;
  event.number = 1;
  event.body = event::Begun{};
  store.write(run, std::span(&event, 1));
  event.number = 2;
  for (int i = 0; i < 2; ++i) CHECK_THROWS_WITH(store.write(run, std::span(&event, 1)), Catch::Contains("full"));
  CHECK(store.events(run, record::Samples::none).size() == 1);
}

TEST_CASE("house: a clock jumps once at its moment, and time goes on as before", "[sim]") {
  test::Simulated simulated;
  sim::JumpingClock clock(*simulated.timeline, {.clock_jumps_at_s = 10, .clock_jumps_by_s = -3600});
  const base::UtcTime before = clock.utc();
  simulated.run(clock.sleep(std::chrono::seconds(20)));
  CHECK(base::to_seconds(clock.now()) == 20);
  CHECK(clock.utc() - before == std::chrono::seconds(20 - 3600));
}
