// SPDX-License-Identifier: Apache-2.0
// What a daemon does first with what an earlier one left.
#include "tests/core/service/harness.hpp"

using namespace eyelevel;
using record::JobState;
using test::Daemon;

TEST_CASE("recover: a run that was in the middle is brought to safe, then offered, and is not begun again",
          "[service]") {
  Daemon daemon;
  const auto job = daemon.left_in_the_middle(true, true, false);
  daemon.run([job](Daemon& d) -> task<> {
    co_await d.until_job(job, JobState::interrupted);
    CHECK(d.jobs->find(job).why == "the daemon ended in the middle of the run; every instrument was made safe");
  });
  CHECK(daemon.bench.scope_is_safe);
  CHECK(daemon.bench.meter_is_safe);
  CHECK(daemon.store->runs({}).size() == 1);
}

TEST_CASE("recover: an instrument that could not be made safe is named", "[service]") {
  Daemon daemon;
  const auto job = daemon.left_in_the_middle(true, true, false);
  daemon.bench.calls.fail_at = 1;
  daemon.run([job](Daemon& d) -> task<> { co_await d.until_job(job, JobState::interrupted); });
  const auto why = daemon.jobs->find(job).why;
  CHECK(why.find("NOT every instrument could be made safe: scope") != std::string::npos);
  CHECK(why.find("switch it off by hand") != std::string::npos);
  CHECK(daemon.bench.meter_is_safe);
}

TEST_CASE("recover: a job that had not begun is done, once", "[service]") {
  for (const bool is_reserved : {false, true}) {
    CAPTURE(is_reserved);
    Daemon daemon;
    const auto job = daemon.left_in_the_middle(is_reserved, false, false);
    daemon.run([job](Daemon& d) -> task<> { co_await d.until_job(job, JobState::done); });
    CHECK(daemon.store->runs({}).size() == 1);
  }
}

TEST_CASE("recover: a job whose run had closed is not done again", "[service]") {
  Daemon daemon;
  const auto job = daemon.left_in_the_middle(true, true, true);
  daemon.run([job](Daemon& d) -> task<> { co_await d.until_job(job, JobState::done); });
  CHECK(daemon.store->runs({}).size() == 1);
  CHECK(daemon.bench.calls.made == 0);
}

TEST_CASE("recover: a job that another daemon has under way on a bench of this name is left alone while that one lives",
          "[service]") {
  Daemon daemon;
  const auto others = record::open_jobs((daemon.folder.path() / "records.db").string(), "another daemon");
  record::Job asked;
  asked.bench = daemon.bench.file.name;
  asked.sequence = Daemon::quiet;
  const auto job = others->add(asked);
  const auto begin = daemon.house.timeline.now();
  REQUIRE(others->take(asked.bench, [](const record::Job&) { return true; },
                       {daemon.house.timeline.utc(), service::lease_length}));
  daemon.run([job, begin](Daemon& d) -> task<> {
    co_await d.until("stopped working");
    CHECK(d.owner->trouble()->message.find("another daemon, another daemon, has job 1 under way") != std::string::npos);
    CHECK(d.bench.calls.made == 0);
    co_await d.until_job(job, JobState::done);
    CHECK(d.house.timeline.now() - begin > service::lease_length);
    CHECK(d.owner->state() == service::BenchState::idle);
  });
  CHECK(daemon.store->runs({}).size() == 1);
}

TEST_CASE("recover: a bench whose job was given back while its daemon was away is brought to safe", "[service]") {
  for (const bool is_begun : {false, true}) {
    CAPTURE(is_begun);
    Daemon daemon;
    const auto job = daemon.left_in_the_middle(true, is_begun, false);
    const auto later = daemon.house.timeline.utc() + service::lease_length + std::chrono::seconds(1);
    REQUIRE(daemon.jobs->give_back(later) == 1);
    if (!is_begun) REQUIRE(daemon.jobs->withdraw(job));
    daemon.run([](Daemon& d) -> task<> {
      while (d.jobs->is_left(d.bench.file.name)) co_await d.house.timeline.sleep(std::chrono::seconds(1));
    });
    CHECK(daemon.bench.scope_is_safe);
    CHECK(daemon.bench.meter_is_safe);
    if (is_begun)
      CHECK(daemon.jobs->find(job).why ==
            "the daemon went silent in the middle of the run; every instrument was made safe");
  }
}
