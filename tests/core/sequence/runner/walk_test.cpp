// SPDX-License-Identifier: Apache-2.0
// How steps are gone through; loops and branches are tested with their verbs (tests/core/sequence/verb).
#include "core/sequence/runner/walk.hpp"

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;
using metrology::Judgement;

TEST_CASE("walk: a step may be tried again, and only its last try is judged", "[sequence]") {
  test::FakeBench bench;
  bench.meter_v = [](double t) { return t < 22 ? 1.0 : 2.5; };
  const std::string step =
      "  - measure: d.c. level of dc\n    within: 20 s\n    name it: a\n    must meet: wide\n    try again: ";
  const std::string limits = "  wide: 2 V to 3 V\n";
  const auto result = bench.run(test::around(step + "at most 5 times, after 5 s\n", limits));
  REQUIRE_FALSE(result.error);
  CHECK(result.judgement == Judgement::pass);
  CHECK(bench.journal.of<event::Measured>().size() > 2);
  CHECK_THAT(bench.journal.of<event::Noted>().front().text,
             Catch::Contains("trying again, 5 left: did not meet its limit for sure"));
}

TEST_CASE("walk: what does not come about in all its tries stops the run with the last error", "[sequence]") {
  test::FakeBench bench;
  int tried = 0;
  bench.meter_v = [&tried](double) -> double {
    ++tried;
    throw base::Error(base::ErrorCode::bad_answer, "no number");
  };
  const auto result = bench.run(test::around(
      "  - measure: d.c. level of dc\n    within: 20 s\n    name it: a\n    try again: at most 2 times\n"));
  REQUIRE(result.error);
  CHECK_THAT(result.error->message, Catch::Contains("no number"));
  CHECK(tried == 3);
  CHECK(bench.journal.of<event::BrokenOff>().size() == 1);
}

TEST_CASE("walk: the time of enclosing steps ends a step that would have had more", "[sequence]") {
  test::FakeBench bench;
  bench.person.is_there = false;
  const auto result = bench.run(
      test::around("  - in this order:\n      - prompt: Anybody?\n        within: 10 min\n    within: 20 s\n"));
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::no_answer);
  CHECK_THAT(result.error->message, Catch::Contains("within 20 s, the time of \"in this order\""));
}
