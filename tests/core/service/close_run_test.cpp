// SPDX-License-Identifier: Apache-2.0
#include "core/service/close_run.hpp"

#include "core/record/run_record.hpp"
#include "tests/core/service/harness.hpp"

using namespace eyelevel;

TEST_CASE("close run: what broke it off and its end come after its last event, once", "[service]") {
  test::Daemon daemon;
  const auto job = daemon.left_in_the_middle(true, true, false);
  const auto run = daemon.jobs->find(job).run;
  service::close_run(*daemon.store, run, daemon.bench.sim.timeline->utc());
  service::close_run(*daemon.store, run, daemon.bench.sim.timeline->utc());
  const auto events = daemon.store->events(run, record::Samples::none);
  REQUIRE(events.size() == 3);
  CHECK(events[2].number == 3);
  const auto record = record::read_run(*daemon.store, run);
  CHECK(record.summary.ended == "stopped");
  REQUIRE(record.stopped_by() != nullptr);
  CHECK(record.stopped_by()->error.code == base::ErrorCode::stopped);
}
