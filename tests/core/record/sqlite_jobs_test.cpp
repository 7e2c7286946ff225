// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include "tests/core/record/jobs_places.hpp"

using namespace eyelevel;
using record::JobState;

TEST_CASE("jobs in a file: what was told survives, with its run, when the file is opened anew", "[record]") {
  const test::InFile place;
  std::int64_t id = 0;
  {
    const auto store = record::open_store(place.where());
    const auto jobs = record::open_jobs(place.where(), "this daemon");
    record::Job job;
    job.bench = "one";
    id = jobs->add(job);
    REQUIRE(test::take(*jobs, "one"));
    REQUIRE(jobs->give_run(id, "2030-01-07-3"));
  }
  const auto jobs = record::open_jobs(place.where(), "this daemon");
  CHECK(jobs->find(id).state == JobState::under_way);
  CHECK(jobs->find(id).run == "2030-01-07-3");
  CHECK(jobs->find(id).owner == "this daemon");
}

TEST_CASE("jobs in a file: the caller's clock decides when a lease is over", "[record]") {
  const test::Kept<test::InFile> kept;
  kept.add("one");
  const auto now = test::some_day();
  REQUIRE(kept.jobs->take("one", test::any, {now, std::chrono::seconds(30)}));
  CHECK(kept.jobs->give_back(now + std::chrono::seconds(30)) == 0);
  CHECK(kept.jobs->give_back(now + std::chrono::seconds(31)) == 1);
}
