// SPDX-License-Identifier: Apache-2.0
#include "core/service/bench_owner.hpp"

#include "tests/core/service/harness.hpp"

using namespace eyelevel;
using record::JobState;
using test::Daemon;

TEST_CASE("bench owner: a job that asks nothing and lights nothing is run at once, and its run is in the record",
          "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    const auto job = co_await d.add_job(Daemon::quiet);
    co_await d.until_job(job, JobState::done);
    const auto runs = d.store->runs({});
    REQUIRE(runs.size() == 1);
    CHECK(runs[0].ended == "finished");
    CHECK(runs[0].serial == "LF2-00417");
    CHECK(d.jobs->find(job).run == runs[0].id);
    CHECK(d.bench.scope_is_safe);
  });
}

TEST_CASE("bench owner: jobs are run one after the other, by priority", "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    const auto first = co_await d.add_job(Daemon::asking, "A");
    co_await d.until_asked();  // taken: what comes now waits
    const auto second = co_await d.add_job(Daemon::quiet, "B");
    const auto urgent = co_await d.add_job(Daemon::quiet, "C");
    co_await d.ask("PATCH", "/api/1/jobs/" + std::to_string(urgent), R"({"priority":1})");
    CHECK(d.owner->stop_now());
    co_await d.until_job(second, JobState::done);
    CHECK(d.jobs->find(first).state == JobState::withdrawn);
    const auto runs = d.store->runs({});
    REQUIRE(runs.size() == 2);
    CHECK(runs[1].serial == "C");
    CHECK(runs[0].serial == "B");
  });
}

TEST_CASE("bench owner: what lights a laser begins when a person at the bench says so, and no event is told before",
          "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    co_await d.add_job(Daemon::asking);
    const auto start = co_await d.until_asked();
    CHECK(d.owner->state() == service::BenchState::waits_for_start);
    CHECK(d.owner->person().open()->starts_a_job);
    CHECK(d.bench.calls.made == 0);
    CHECK(d.store->runs({}).empty());
    d.owner->person().answer(start, "done", "");
    co_await d.until("running");
    const auto first = co_await d.until_asked();
    CHECK(d.owner->person().open()->question.text == "Insert the pressed test disc");
    CHECK(d.owner->prompt_within_s() == 600);
    d.owner->person().answer(first, "done", "somebody");
    while (d.owner->person().open() && d.owner->person().open()->number == first) co_await d.owner->feed().changed();
    const auto second = co_await d.until_asked();
    CHECK(second > first);
    d.owner->person().answer(second, "yes", "somebody");
    co_await d.until("idle");
    CHECK(d.owner->last()->ended == "finished");
  });
}

TEST_CASE("bench owner: paused before its next step, gone on with, stopped after a step", "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    CHECK_FALSE(d.owner->pause());
    CHECK_FALSE(d.owner->stop_now());
    co_await d.add_job(Daemon::asking);
    d.owner->person().answer(co_await d.until_asked(), "done", "");
    co_await d.until("running");
    const auto first = co_await d.until_asked();
    CHECK(d.owner->pause());
    CHECK(d.owner->state() == service::BenchState::paused);
    CHECK_FALSE(d.owner->pause());
    CHECK(d.owner->go_on());
    CHECK_FALSE(d.owner->go_on());
    CHECK(d.owner->stop_after_step());
    d.owner->person().answer(first, "done", "");
    co_await d.until("idle");
    CHECK(d.owner->last()->ended == "stopped");
    CHECK(d.bench.scope_is_safe);
  });
}

TEST_CASE("bench owner: stopped in the middle of a step, the run closes and its instruments are safe", "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    const auto job = co_await d.add_job(Daemon::asking);
    d.owner->person().answer(co_await d.until_asked(), "done", "");
    co_await d.until("running");
    co_await d.until_asked();
    CHECK(d.owner->stop_now());
    co_await d.until_job(job, JobState::done);
    CHECK(d.store->run(d.jobs->find(job).run).ended == "stopped");
    CHECK(d.bench.scope_is_safe);
  });
}

TEST_CASE("bench owner: a daemon that is stopped closes the run under way and leaves its job to be resumed",
          "[service]") {
  Daemon daemon;
  std::int64_t job = 0;
  daemon.run([&job](Daemon& d) -> task<> {
    job = co_await d.add_job(Daemon::asking);
    d.owner->person().answer(co_await d.until_asked(), "done", "");
    co_await d.until("running");
    co_await d.until_asked();
  });
  CHECK(daemon.bench.scope_is_safe);
  CHECK(daemon.jobs->find(job).state == JobState::interrupted);
  CHECK(daemon.jobs->find(job).why.find("the daemon was stopped") == 0);
  CHECK(daemon.store->run(daemon.jobs->find(job).run).ended == "stopped");
}

TEST_CASE("bench owner: a daemon that is stopped while a job waits for its start gives that job back", "[service]") {
  Daemon daemon;
  std::int64_t job = 0;
  daemon.run([&job](Daemon& d) -> task<> {
    job = co_await d.add_job(Daemon::asking);
    co_await d.until_asked();
  });
  CHECK(daemon.jobs->find(job).state == JobState::waiting);
}

TEST_CASE("bench owner: stopped at any moment of a job, it ends, and the job waits, is interrupted or is done",
          "[service]") {
  for (int moment = 0; moment < 12; ++moment) {
    CAPTURE(moment);
    Daemon daemon;
    std::int64_t job = 0;
    daemon.run([&job, moment](Daemon& d) -> task<> {
      job = co_await d.add_job(Daemon::quiet);
      for (int i = 0; i < moment && d.jobs->find(job).state != JobState::done; ++i) co_await d.owner->feed().changed();
    });
    const auto after = daemon.jobs->find(job);
    CHECK(after.state != JobState::under_way);
    const auto runs = daemon.store->runs({});
    CHECK(runs.size() == (after.state == JobState::waiting ? 0 : 1));
    if (after.state == JobState::interrupted) CHECK(runs.at(0).ended == "stopped");
    if (after.state == JobState::done) CHECK(runs.at(0).ended == "finished");
  }
}

TEST_CASE(
    "bench owner: a job whose sequence went bad while it waited is refused with every mistake, and the next one runs",
    "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    co_await d.add_job(Daemon::asking);
    co_await d.until_asked();
    const auto bad = co_await d.add_job(Daemon::quiet);
    d.add_sequence(Daemon::quiet, "sequence: quiet\nabout: now wrong\nsteps:\n  - shout: hello\n");
    CHECK(d.owner->stop_now());
    co_await d.until_job(bad, JobState::refused);
    CHECK(d.jobs->find(bad).why.find("shout") != std::string::npos);
    CHECK(d.store->runs({}).empty());
    CHECK(d.owner->state() == service::BenchState::idle);
  });
}

TEST_CASE("bench owner: where the run is, is known at each step and gone at its end", "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    co_await d.add_job(Daemon::asking);
    d.owner->person().answer(co_await d.until_asked(), "done", "");
    co_await d.until("running");
    const auto first = co_await d.until_asked();
    REQUIRE(d.owner->here());
    CHECK(d.owner->here()->part == "steps");
    CHECK(d.owner->here()->number == 1);
    d.owner->person().answer(first, "done", "");
    while (d.owner->here()->number != 2) co_await d.owner->feed().changed();
    d.owner->stop_now();
    co_await d.until("idle");
    CHECK_FALSE(d.owner->here());
  });
}

TEST_CASE("bench owner: each state has a name", "[service]") {
  CHECK(service::name_of(service::BenchState::waits_for_start) == "waits for start");
  CHECK(service::name_of(service::BenchState::stopped_working) == "stopped working");
}

TEST_CASE("bench owner: a bench that is taken away ends its job and begins no other", "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    const auto first = co_await d.add_job(Daemon::asking, "A");
    co_await d.until_asked();
    const auto second = co_await d.add_job(Daemon::quiet, "B");
    d.owner->retire();
    CHECK_FALSE(d.owner->is_over());
    CHECK(d.owner->stop_now());
    while (!d.owner->is_over()) co_await d.owner->feed().changed();
    CHECK(d.jobs->find(first).state == JobState::withdrawn);
    CHECK(d.jobs->find(second).state == JobState::waiting);
  });
}

TEST_CASE("bench owner: a bench whose file comes back before its job is over goes on", "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    const auto first = co_await d.add_job(Daemon::asking, "A");
    co_await d.until_asked();
    const auto second = co_await d.add_job(Daemon::quiet, "B");
    d.owner->retire();
    d.owner->replace(
        {.bench = d.bench.file, .open = [&d](const bench::InstrumentEntry& entry) { return d.bench.open(entry); }});
    CHECK(d.owner->stop_now());
    co_await d.until_job(second, JobState::done);
    CHECK(d.jobs->find(first).state == JobState::withdrawn);
  });
}
