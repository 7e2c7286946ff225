// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/yield.hpp"

#include <catch2/catch.hpp>

#include "tests/core/report/workshop/played.hpp"

using namespace eyelevel;
using namespace eyelevel::report::workshop;
using metrology::Judgement;
using test::played_tally;

TEST_CASE("yield: shares are of judged runs, by model, bench, operator and week", "[report]") {
  const std::vector<record::Tally> tallies{played_tally("2030-01-07", "bench 1", Judgement::pass, 8),
                                           played_tally("2030-01-13", "bench 2", Judgement::fail, 2, "ben"),
                                           played_tally("2030-01-14", "bench 1", Judgement::undecided, 10),
                                           played_tally("2030-01-14", "bench 1", std::nullopt, 5)};
  const Yields yields = yields_of(tallies);
  CHECK(yields.all.judged() == 20);
  CHECK(yields.all.not_judged == 5);
  CHECK(yields.all.share() == Approx(0.4));
  REQUIRE(yields.week.size() == 2);
  CHECK(yields.week[0].of == "2030-01-07");  // Monday to Sunday
  CHECK(yields.week[0].judged() == 10);
  CHECK(yields.week[1].of == "2030-01-14");
  REQUIRE(yields.bench.size() == 2);
  CHECK(yields.bench[1].failed == 2);
  REQUIRE(yields.who.size() == 2);
  CHECK(yields.who[1].of == "ben");
  CHECK(yields.model.size() == 1);
}

TEST_CASE("yield: runs that are left out are counted nowhere", "[report]") {
  std::vector<record::Tally> tallies{played_tally("2030-01-07", "bench 1", Judgement::pass, 2),
                                     played_tally("2030-01-07", "bench 1", Judgement::fail, 1)};
  const auto like = [](const record::Tally& tally, std::string id) {
    record::RunSummary run;
    run.id = std::move(id);
    run.model = tally.model;
    run.bench = tally.bench;
    run.operator_name = tally.operator_name;
    run.sequence = tally.sequence;
    run.judgement = tally.judgement;
    run.ended = "finished";
    return run;
  };
  auto open = like(tallies[0], "2030-01-07-5"), proof = like(tallies[0], "2030-01-07-6");
  open.ended.clear();
  proof.proves = "bench";
  leave_out(tallies, std::vector{like(tallies[0], "2030-01-07-3"), like(tallies[1], "2030-01-07-4"), open, proof,
                                 like(tallies[0], "2030-01-08-3")});
  REQUIRE(tallies.size() == 1);
  CHECK(tallies[0].runs == 1);
  CHECK(tallies[0].judgement == Judgement::pass);
}

// NIST/SEMATECH e-Handbook and R. Newcombe's worked cases, as in core/metrology: 81 of 263, 0.2553 to 0.3662.
TEST_CASE("yield: the interval is Wilson's", "[report]") {
  Yield yield;
  yield.passed = 81;
  yield.failed = 263 - 81;
  CHECK(yield.range()->low == Approx(0.2553).margin(5e-5));
  CHECK(yield.range()->high == Approx(0.3662).margin(5e-5));
}

TEST_CASE("yield: without a judged run there is no share", "[report]") {
  Yield yield;
  yield.not_judged = 3;
  CHECK_FALSE(yield.share());
  CHECK_FALSE(yield.range());
}

TEST_CASE("yield: a week begins on Monday, also over the end of a year, and what is no day stays", "[report]") {
  CHECK(monday_of("2030-01-07") == "2030-01-07");
  CHECK(monday_of("2030-01-13") == "2030-01-07");
  CHECK(monday_of("2030-01-01") == "2029-12-31");
  CHECK(monday_of("some day") == "some day");
}

TEST_CASE("yield: who lies apart from all others is found, and nobody where shares are alike", "[report]") {
  std::vector<Yield> list(3);
  for (Yield& one : list) one.passed = 90, one.failed = 10;
  CHECK(apart(list).empty());
  list[1].passed = 60;
  list[1].failed = 40;
  const auto found = apart(list);
  REQUIRE(found.size() == 1);  // nor do the others stand apart because of that one
  CHECK(found[0].one == &list[1]);
  CHECK(found[0].others == Approx(0.9));
}

TEST_CASE("yield: no more than three stand apart of a list, the farthest first", "[report]") {
  std::vector<Yield> list(12);
  for (std::size_t i = 0; i < list.size(); ++i) list[i].passed = i < 5 ? 500 + 20 * static_cast<int>(i) : 900;
  for (Yield& one : list) one.failed = 1000 - one.passed;
  const auto found = apart(list);
  REQUIRE(found.size() == apart_most);
  CHECK(found[0].one == &list[0]);
  CHECK(found[2].one == &list[2]);
}
