// SPDX-License-Identifier: Apache-2.0
// What jobs must do on every database: each test runs over a file and over a PostgreSQL server.
#include "core/record/store/jobs.hpp"

#include <catch2/catch.hpp>

#include <map>
#include <memory>
#include <set>
#include <thread>
#include <vector>

#include "core/base/error.hpp"
#include "core/record/store/jobs_database.hpp"
#include "tests/core/record/jobs_places.hpp"
#include "tests/core/record/store_suite.hpp"

using namespace eyelevel;
using record::Job;
using record::JobState;
using test::Kept;
using test::take;

TEMPLATE_TEST_CASE("jobs: what was asked comes back as it was", "[record]", test::InFile, test::OnServer) {
  const Kept<TestType> kept;
  Job job;
  job.bench = "one";
  job.sequence = "ready/pickup-level.yaml";
  job.serial = "LF2-00417";
  job.model = "lf-2.yaml";
  job.given = {{"target", "1.20 V ± 10 %"}, {"note", "\"quoted\"\n"}};
  job.priority = -3;
  job.asked_by = "office";
  job.asked = base::UtcTime(std::chrono::milliseconds(1'900'000'000'123));
  job.goes_on_from = "2030-01-07-1";
  const auto id = kept.jobs->add(job);
  const Job back = kept.jobs->find(id);
  CHECK(back.id == id);
  CHECK(back.bench == job.bench);
  CHECK(back.serial == job.serial);
  CHECK(back.model == job.model);
  REQUIRE(back.given.size() == 2);
  CHECK(back.given[0].value == "1.20 V ± 10 %");
  CHECK(back.given[1].value == "\"quoted\"\n");
  CHECK(back.priority == -3);
  CHECK(back.asked == job.asked);
  CHECK(back.asked_by == "office");
  CHECK(back.goes_on_from == "2030-01-07-1");
  CHECK(back.state == JobState::waiting);
}

TEMPLATE_TEST_CASE("jobs: the highest priority is taken first, then who asked first, each bench its own", "[record]",
                   test::InFile, test::OnServer) {
  const Kept<TestType> kept;
  const auto first = kept.add("one");
  const auto second = kept.add("one");
  const auto urgent = kept.add("one", 5);
  const auto other = kept.add("two");
  const auto done = [&](const char* bench) {
    const auto job = take(*kept.jobs, bench);
    REQUIRE(job);
    REQUIRE(kept.jobs->put(job->id, JobState::done, ""));
    return job->id;
  };
  CHECK(done("one") == urgent);
  CHECK(done("one") == first);
  CHECK(done("two") == other);
  CHECK(done("one") == second);
  CHECK_FALSE(take(*kept.jobs, "one"));
}

TEMPLATE_TEST_CASE("jobs: one that is under way cannot be withdrawn or moved", "[record]", test::InFile,
                   test::OnServer) {
  const Kept<TestType> kept;
  const auto taken = kept.add("one");
  const auto waiting = kept.add("one");
  REQUIRE(take(*kept.jobs, "one")->id == taken);
  CHECK_FALSE(kept.jobs->withdraw(taken));
  CHECK_FALSE(kept.jobs->set_priority(taken, 1));
  CHECK(kept.jobs->set_priority(waiting, 1));
  CHECK(kept.jobs->withdraw(waiting));
  REQUIRE(kept.jobs->put(taken, JobState::done, ""));
  CHECK_FALSE(take(*kept.jobs, "one"));
}

TEMPLATE_TEST_CASE("jobs: the list holds what needs somebody first, then what comes next, then what is over",
                   "[record]", test::InFile, test::OnServer) {
  const Kept<TestType> kept;
  const auto over = kept.add("one");
  const auto broken = kept.add("one");
  const auto now = kept.add("one");
  REQUIRE(take(*kept.jobs, "one")->id == over);
  kept.jobs->put(over, JobState::done, "");
  REQUIRE(take(*kept.jobs, "one")->id == broken);
  kept.jobs->put(broken, JobState::interrupted, "the power went");
  REQUIRE(take(*kept.jobs, "one")->id == now);
  const auto next = kept.add("one");
  const auto urgent = kept.add("one", 1);
  std::vector<std::int64_t> order;
  for (const Job& job : kept.jobs->list({})) order.push_back(job.id);
  CHECK(order == std::vector<std::int64_t>{broken, now, urgent, next, over});
  CHECK(kept.jobs->find(broken).why == "the power went");
  CHECK(kept.jobs->list({.bench = "two"}).empty());
  CHECK(kept.jobs->list({.state = JobState::waiting}).size() == 2);
}

TEMPLATE_TEST_CASE("jobs: taken by several at the same time, each is taken once", "[record]", test::InFile,
                   test::OnServer) {
  const Kept<TestType> kept;
  constexpr std::size_t number = 60;
  for (std::size_t i = 0; i < number; ++i) kept.add("one");
  std::vector<std::vector<std::int64_t>> taken(3);
  std::vector<std::thread> takers;
  for (auto& mine : taken)
    takers.emplace_back([&mine, &kept, owner = "daemon " + std::to_string(takers.size())] {
      const auto jobs = kept.open(owner);
      while (const auto job = take(*jobs, "one")) {
        mine.push_back(job->id);
        jobs->put(job->id, JobState::done, "");
      }
    });
  for (auto& taker : takers) taker.join();
  std::set<std::int64_t> all;
  std::size_t count = 0;
  for (const auto& mine : taken) {
    all.insert(mine.begin(), mine.end());
    count += mine.size();
  }
  CHECK(count == number);
  CHECK(all.size() == number);
}

TEMPLATE_TEST_CASE("jobs: those that are not over are counted, more than any list holds", "[record]", test::InFile,
                   test::OnServer) {
  const Kept<TestType> kept;
  constexpr int number = 1100;  // JobQuery gives 1000 at most unless it is asked for more
  for (int i = 0; i < number; ++i) kept.add("one");
  kept.jobs->put(take(*kept.jobs, "one")->id, JobState::done, "");
  REQUIRE(take(*kept.jobs, "one"));
  std::map<JobState, std::int64_t> counted;
  for (const auto& one : kept.jobs->counts()) counted[one.state] = one.count;
  CHECK(counted == std::map<JobState, std::int64_t>{{JobState::waiting, number - 2}, {JobState::under_way, 1}});
}

TEMPLATE_TEST_CASE("jobs: an unknown one is an error that says so", "[record]", test::InFile, test::OnServer) {
  const Kept<TestType> kept;
  CHECK_THROWS_WITH(kept.jobs->find(7), Catch::Contains("there is no job 7"));
  CHECK_THROWS_WITH(kept.jobs->give_run(7, "x"), Catch::Contains("there is no job 7"));
}

TEST_CASE("jobs: each state has one name", "[record]") {
  for (const auto state : {JobState::waiting, JobState::under_way, JobState::interrupted, JobState::done,
                           JobState::withdrawn, JobState::refused})
    CHECK(record::job_state(record::name_of(state)) == state);
  CHECK_FALSE(record::job_state("lost"));
}

TEMPLATE_TEST_CASE("jobs: one that names no bench is taken by the first that fits it, in its turn", "[record]",
                   test::InFile, test::OnServer) {
  const Kept<TestType> kept;
  const auto any = kept.add("", 2);
  const auto named = kept.add("two", 1);
  const auto later = kept.add("");
  const auto fits_later = [&](const Job& job) { return job.id == later; };
  CHECK(take(*kept.jobs, "two", fits_later)->id == named);
  kept.jobs->put(named, JobState::done, "");
  CHECK(take(*kept.jobs, "two", fits_later)->id == later);
  CHECK_FALSE(take(*kept.jobs, "three", [](const Job&) { return false; }));
  const auto taken = take(*kept.jobs, "one");
  REQUIRE(taken);
  CHECK(taken->id == any);
  CHECK(taken->bench == "one");
  CHECK(taken->for_any);
  CHECK(kept.jobs->list({.bench = "one", .state = JobState::under_way}).size() == 1);
  REQUIRE(kept.jobs->put(any, JobState::waiting, ""));
  CHECK(kept.jobs->find(any).bench.empty());
  CHECK(take(*kept.jobs, "four")->id == any);
}

TEMPLATE_TEST_CASE("jobs: a bench that takes again has the job that it did not hear of", "[record]", test::InFile,
                   test::OnServer) {
  const Kept<TestType> kept;
  const auto first = kept.add("one");
  kept.add("one", 5);
  kept.jobs->set_priority(first, 9);
  REQUIRE(take(*kept.jobs, "one")->id == first);
  CHECK(take(*kept.jobs, "one")->id == first);
}

TEMPLATE_TEST_CASE("jobs: what is not renewed is given back, and waits again when its run told nothing", "[record]",
                   test::InFile, test::OnServer) {
  for (const bool is_reserved : {false, true}) {
    CAPTURE(is_reserved);
    const Kept<TestType> kept;
    const auto id = kept.add("");
    REQUIRE(take(*kept.jobs, "one", test::any, test::over));
    const auto run = kept.store->reserve_run(test::some_day());
    if (is_reserved) REQUIRE(kept.jobs->give_run(id, run));
    const auto others = kept.open("another daemon");
    CHECK(others->give_back(test::some_day()) == 1);
    CHECK(others->give_back(test::some_day()) == 0);
    const Job back = others->find(id);
    CHECK(back.state == JobState::waiting);
    CHECK(back.bench.empty());
    CHECK(back.run.empty());
    CHECK(back.owner.empty());
    CHECK(others->is_left("one"));
    REQUIRE(take(*others, "two")->id == id);
    // The late daemon hears that it is not its own any more, and cannot begin the run.
    CHECK_FALSE(kept.jobs->give_run(id, run));
    CHECK_FALSE(kept.jobs->put(id, JobState::done, ""));
    CHECK(others->find(id).state == JobState::under_way);
    const auto begun = test::sample_event(run, 1, test::sample_bodies().front());
    if (is_reserved) CHECK_THROWS_AS(kept.store->write(run, std::span(&begun, 1)), base::Error);
  }
}

TEMPLATE_TEST_CASE("jobs: what is given back in the middle of its run is interrupted, until its bench is safe",
                   "[record]", test::InFile, test::OnServer) {
  const Kept<TestType> kept;
  const auto id = kept.add("one");
  REQUIRE(take(*kept.jobs, "one", test::any, test::over));
  const auto run = kept.store->reserve_run(test::some_day());
  kept.jobs->give_run(id, run);
  const auto events = test::sample_events(run);
  kept.store->write(run, std::span(events).first(2));
  const auto others = kept.open("another daemon");
  CHECK(others->give_back(test::some_day()) == 1);
  CHECK(others->find(id).state == JobState::interrupted);
  CHECK_THAT(others->find(id).why, Catch::Contains("went silent"));
  CHECK(others->find(id).run == run);
  CHECK(kept.jobs->is_left("one"));
  CHECK_FALSE(kept.jobs->is_left("two"));
  kept.jobs->put_safe("one", "every instrument was made safe");
  CHECK_FALSE(kept.jobs->is_left("one"));
  CHECK(kept.jobs->find(id).why == "every instrument was made safe");
  // Its own daemon was only cut off, and has done the job.
  CHECK(kept.jobs->put(id, JobState::done, ""));
}

TEMPLATE_TEST_CASE("jobs: what is given back after its run has closed is done", "[record]", test::InFile,
                   test::OnServer) {
  const Kept<TestType> kept;
  const auto id = kept.add("one");
  REQUIRE(take(*kept.jobs, "one", test::any, test::over));
  const auto run = kept.store->reserve_run(test::some_day());
  kept.jobs->give_run(id, run);
  kept.store->write(run, test::sample_events(run));
  CHECK(kept.open("another daemon")->give_back(test::some_day()) == 1);
  CHECK(kept.jobs->find(id).state == JobState::done);
  CHECK_FALSE(kept.jobs->is_left("one"));
}

TEMPLATE_TEST_CASE("jobs: renewing keeps what is a daemon's own, and only that", "[record]", test::InFile,
                   test::OnServer) {
  const Kept<TestType> kept;
  const auto others = kept.open("another daemon");
  const auto mine = kept.add("one");
  const auto theirs = kept.add("two");
  REQUIRE(take(*kept.jobs, "one", test::any, test::over)->id == mine);
  REQUIRE(take(*others, "two", test::any, test::over)->id == theirs);
  kept.jobs->renew(test::long_lease);
  CHECK(others->give_back(test::some_day()) == 1);
  CHECK(others->find(mine).state == JobState::under_way);
  CHECK(others->find(mine).owner == kept.jobs->owner());
  CHECK(others->find(theirs).state == JobState::waiting);
}

TEMPLATE_TEST_CASE("jobs: listings of one bench and of one state hold no others", "[record]", test::InFile,
                   test::OnServer) {
  const Kept<TestType> kept;
  const auto one = kept.add("one");
  kept.add("two");
  const auto over = kept.add("one");
  REQUIRE(kept.jobs->withdraw(over));
  const auto ids = [&](const record::JobQuery& query) {
    std::vector<std::int64_t> list;
    for (const Job& job : kept.jobs->list(query)) list.push_back(job.id);
    return list;
  };
  CHECK(ids({.bench = "one"}) == std::vector<std::int64_t>{one, over});
  CHECK(ids({.bench = "one", .state = JobState::withdrawn}) == std::vector<std::int64_t>{over});
  CHECK(ids({.state = JobState::done}).empty());
  CHECK(ids({.at_most = 2}).size() == 2);
}
