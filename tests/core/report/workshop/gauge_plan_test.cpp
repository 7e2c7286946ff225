// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/gauge_plan.hpp"

#include <catch2/catch.hpp>

#include <set>
#include <tuple>

#include "core/base/error.hpp"

using namespace eyelevel;
using namespace eyelevel::report::workshop;

namespace {

GaugeParts parts() { return {{"LF2-1", "LF2-2", "LF2-3"}, {"anna", "ben"}, 3, By::operators}; }

}  // namespace

TEST_CASE("gauge plan: each unit by each operator in every round, each round in an order of its own", "[report]") {
  const auto jobs = plan_gauge(parts(), 7);
  REQUIRE(jobs.size() == 18);
  std::set<std::tuple<std::string, std::string, std::size_t>> seen;
  for (std::size_t i = 0; i < jobs.size(); ++i) {
    CHECK(jobs[i].place == i + 1);
    CHECK(jobs[i].repeat == i / 6 + 1);
    seen.insert({jobs[i].unit, jobs[i].who, jobs[i].repeat});
  }
  CHECK(seen.size() == 18);
}

TEST_CASE("gauge plan: the same seed gives the same order, another another", "[report]") {
  const auto csv = [](std::uint64_t seed) { return plan_csv(plan_gauge(parts(), seed), By::operators); };
  CHECK(csv(7) == csv(7));
  CHECK(csv(7) != csv(8));
}

// 720 orders of six jobs in a round: over 6000 seeds a given job comes first 1000 times, give or take four standard
// deviations of a count (29).
TEST_CASE("gauge plan: every job is as likely to come first", "[report]") {
  int first = 0;
  for (std::uint64_t seed = 0; seed < 6000; ++seed) {
    const auto job = plan_gauge(parts(), seed).front();
    first += job.unit == "LF2-2" && job.who == "ben";
  }
  CHECK(first == Approx(1000).margin(116));
}

TEST_CASE("gauge plan: names with commas and quotes come through the CSV", "[report]") {
  const std::vector<GaugeJob> jobs{{1, "LF2-\"1\"", "Ada, of bench 2", 1}};
  CHECK(plan_csv(jobs, By::benches) == "order,unit,bench,repeat\n1,\"LF2-\"\"1\"\"\",\"Ada, of bench 2\",1\n");
}

TEST_CASE("gauge plan: too few of anything, a name twice and far too many jobs are refused", "[report]") {
  GaugeParts few = parts();
  few.units = {"LF2-1"};
  CHECK_THROWS_WITH(plan_gauge(few, 1), Catch::Contains("1 units: two are the least"));
  few = parts();
  few.who = {"anna", "anna"};
  CHECK_THROWS_WITH(plan_gauge(few, 1), Catch::Contains("anna is among the operators twice"));
  few = parts();
  few.repeats = 1;
  CHECK_THROWS_WITH(plan_gauge(few, 1), Catch::Contains("two repeats are the least"));
  few.repeats = 5000;
  CHECK_THROWS_WITH(plan_gauge(few, 1), Catch::Contains("more than 10000 jobs"));
}
