// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include <filesystem>
#include <map>
#include <memory>
#include <set>
#include <thread>
#include <vector>

#include "core/base/error.hpp"
#include "core/record/store/jobs.hpp"
#include "core/record/store/store.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace eyelevel;
using record::Job;
using record::JobState;

namespace {

struct Kept {
  test::TemporaryFolder folder;
  std::filesystem::path path = folder.path() / "records.db";
  std::unique_ptr<record::Store> store = record::open_file_store(path);
  std::unique_ptr<record::Jobs> jobs = record::open_jobs(path);

  std::int64_t add(const std::string& bench, std::int64_t priority = 0) const {
    Job job;
    job.bench = bench;
    job.sequence = "ready/pickup-level.yaml";
    job.priority = priority;
    return jobs->add(job);
  }
};

}  // namespace

TEST_CASE("jobs: what was asked comes back as it was", "[record]") {
  const Kept kept;
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

TEST_CASE("jobs: the highest priority is taken first, then who asked first, each bench its own", "[record]") {
  const Kept kept;
  const auto first = kept.add("one");
  const auto second = kept.add("one");
  const auto urgent = kept.add("one", 5);
  const auto other = kept.add("two");
  CHECK(kept.jobs->take("one")->id == urgent);
  CHECK(kept.jobs->take("one")->id == first);
  CHECK(kept.jobs->take("two")->id == other);
  CHECK(kept.jobs->take("one")->id == second);
  CHECK_FALSE(kept.jobs->take("one"));
}

TEST_CASE("jobs: one that is under way cannot be withdrawn or moved", "[record]") {
  const Kept kept;
  const auto taken = kept.add("one");
  const auto waiting = kept.add("one");
  REQUIRE(kept.jobs->take("one")->id == taken);
  CHECK_FALSE(kept.jobs->withdraw(taken));
  CHECK_FALSE(kept.jobs->set_priority(taken, 1));
  CHECK(kept.jobs->set_priority(waiting, 1));
  CHECK(kept.jobs->withdraw(waiting));
  CHECK_FALSE(kept.jobs->take("one"));
}

TEST_CASE("jobs: the list holds what needs somebody first, then what comes next, then what is over", "[record]") {
  const Kept kept;
  const auto over = kept.add("one");
  const auto broken = kept.add("one");
  const auto now = kept.add("one");
  for (const auto id : {over, broken, now}) REQUIRE(kept.jobs->take("one")->id == id);
  kept.jobs->put(over, JobState::done, "");
  kept.jobs->put(broken, JobState::interrupted, "the power went");
  const auto next = kept.add("one");
  const auto urgent = kept.add("one", 1);
  std::vector<std::int64_t> order;
  for (const Job& job : kept.jobs->list({})) order.push_back(job.id);
  CHECK(order == std::vector<std::int64_t>{broken, now, urgent, next, over});
  CHECK(kept.jobs->find(broken).why == "the power went");
  CHECK(kept.jobs->list({.bench = "two"}).empty());
  CHECK(kept.jobs->list({.state = JobState::waiting}).size() == 2);
}

TEST_CASE("jobs: what was told survives, with its run, when the file is opened anew", "[record]") {
  const test::TemporaryFolder folder;
  const auto path = folder.path() / "records.db";
  std::int64_t id = 0;
  {
    const auto store = record::open_file_store(path);
    const auto jobs = record::open_jobs(path);
    Job job;
    job.bench = "one";
    id = jobs->add(job);
    REQUIRE(jobs->take("one"));
    jobs->give_run(id, "2030-01-07-3");
  }
  const auto store = record::open_file_store(path);
  const auto jobs = record::open_jobs(path);
  CHECK(jobs->find(id).state == JobState::under_way);
  CHECK(jobs->find(id).run == "2030-01-07-3");
}

TEST_CASE("jobs: taken by several at the same time, each is taken once", "[record]") {
  const Kept kept;
  constexpr std::size_t number = 60;
  for (std::size_t i = 0; i < number; ++i) kept.add("one");
  std::vector<std::vector<std::int64_t>> taken(3);
  std::vector<std::thread> takers;
  for (auto& mine : taken)
    takers.emplace_back([&mine, &kept] {
      const auto jobs = record::open_jobs(kept.path);
      while (const auto job = jobs->take("one")) mine.push_back(job->id);
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

TEST_CASE("jobs: those that are not over are counted, more than any list holds", "[record]") {
  const Kept kept;
  constexpr int number = 1100;  // JobQuery gives 1000 at most unless it is asked for more
  for (int i = 0; i < number; ++i) kept.add("one");
  REQUIRE(kept.jobs->take("one"));
  kept.jobs->put(kept.jobs->take("one")->id, JobState::done, "");
  std::map<JobState, std::int64_t> counted;
  for (const auto& one : kept.jobs->counts()) counted[one.state] = one.count;
  CHECK(counted == std::map<JobState, std::int64_t>{{JobState::waiting, number - 2}, {JobState::under_way, 1}});
}

TEST_CASE("jobs: an unknown one is an error that says so", "[record]") {
  const Kept kept;
  CHECK_THROWS_WITH(kept.jobs->find(7), Catch::Contains("there is no job 7"));
  CHECK_THROWS_WITH(kept.jobs->give_run(7, "x"), Catch::Contains("there is no job 7"));
}

TEST_CASE("jobs: each state has one name", "[record]") {
  for (const auto state : {JobState::waiting, JobState::under_way, JobState::interrupted, JobState::done,
                           JobState::withdrawn, JobState::refused})
    CHECK(record::job_state(record::name_of(state)) == state);
  CHECK_FALSE(record::job_state("lost"));
}
