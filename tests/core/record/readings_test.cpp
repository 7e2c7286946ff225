// SPDX-License-Identifier: Apache-2.0
#include "core/record/store/readings.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/core/record/store_suite.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

TEST_CASE("readings: only what was asked for stands in the condition of a listing", "[record]") {
  CHECK(readings_query({}).values.empty());
  const Query list = readings_query({.name = "level", .bench = "two", .at_most = 7});
  CHECK(list.values == std::vector<std::string>{"level", "two"});
  CHECK_THAT(list.sql, Catch::Contains("name = $1 AND bench = $2") && Catch::EndsWith("LIMIT 7"));
  CHECK(tallies_query({.until_day = "2030-01-07"}).values == std::vector<std::string>{"2030-01-07"});
}

// In the order of first appearance, which is how SQLite numbers them.
TEST_CASE("readings: the values of an event are numbered as they appear", "[record]") {
  for (const Query& query :
       {measured_query("2030-01-07-1", 2, {{}, test::sample_reading()}),
        judged_query("2030-01-07-1", {{}, "level", metrology::Judgement::pass, {1.0, std::nullopt}}),
        operator_query("2030-01-07-1", {{}, "done", "anna"})}) {
    CAPTURE(query.sql);
    std::size_t at = 0;
    for (std::size_t n = 1; n <= query.values.size(); ++n) {
      const std::size_t found = query.sql.find("$" + std::to_string(n));
      CHECK(found != std::string::npos);
      CHECK(found >= at);
      at = found;
    }
  }
}

TEST_CASE("readings: a number of the table reads back as the same double, and what is none is said", "[record]") {
  CHECK(number_from("1.2034567890123457") == 1.2034567890123457);
  CHECK_THROWS_WITH(number_from("1,2"), Catch::Contains("\"1,2\" is no number"));
}

TEST_CASE("readings: a judgement goes to the newest reading of its name", "[record]") {
  RunSummary run;
  run.id = "2030-01-07-1";
  metrology::Reading reading = test::sample_reading();
  reading.judgement.reset();
  const std::vector<event::Event> events{
      test::sample_event(run.id, 1, event::Measured{{}, reading}),
      test::sample_event(run.id, 2, event::Measured{{}, reading}),
      test::sample_event(run.id, 3, event::Judged{{}, reading.name, metrology::Judgement::fail, {1.3, {}}})};
  const auto rows = readings_in(run, events);
  REQUIRE(rows.size() == 2);
  CHECK_FALSE(rows[0].judgement);
  CHECK(rows[1].judgement == metrology::Judgement::fail);
  CHECK(rows[1].limit->at_least == 1.3);
}

TEST_CASE("readings: runs that are open, or prove a bench, are not counted", "[record]") {
  RunSummary closed, open, proof;
  closed.id = open.id = proof.id = "2030-01-07-1";
  closed.ended = proof.ended = "finished";
  proof.proves = "bench";
  const std::vector<RunSummary> runs{closed, open, proof, closed};
  const auto tallies = tallies_of(runs, {});
  REQUIRE(tallies.size() == 1);
  CHECK(tallies[0].runs == 2);
  CHECK(tallies_of(runs, {.since_day = "2030-01-08"}).empty());
}
