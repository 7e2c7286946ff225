// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;
using metrology::Judgement;

namespace {

const std::string measure_a = "      - measure: d.c. level of dc\n        within: 20 s\n        name it: a\n";

std::string with(const std::string& steps) { return test::around(steps, "  high: at least 2.9 V\n"); }

std::vector<std::string> notes(test::FakeBench& bench) {
  std::vector<std::string> all;
  for (const auto& noted : bench.journal.of<event::Noted>()) all.push_back(noted.text);
  return all;
}

// A level that rises by 0.1 V every 10 s from 2.5 V.
void rising(test::FakeBench& bench) {
  bench.meter_v = [](double t) { return 2.5 + std::floor(t / 10) * 0.1; };
}

std::size_t rounds(const test::FakeBench& bench) { return bench.journal.of<event::Measured>().size(); }

}  // namespace

TEST_CASE("repeat: goes round until its condition holds, and keeps the newest result", "[sequence]") {
  test::FakeBench bench;
  rising(bench);
  const auto result =
      bench.run(with("  - repeat: at most 9 times\n    pause: 10 s\n    until: a meets high\n    do:\n" + measure_a +
                     "  - judge: a\n    must meet: high\n"));
  for (const auto& note : notes(bench)) UNSCOPED_INFO(note);
  REQUIRE_FALSE(result.error);
  CHECK(result.judgement == Judgement::pass);
  CHECK(rounds(bench) > 2);
  CHECK(rounds(bench) < 9);
  REQUIRE(result.readings.size() == 1);
  CHECK(result.readings.front().value > 2.9);
  CHECK_THAT(notes(bench).back(), Catch::StartsWith("yes: a is "));
}

TEST_CASE("repeat: what never holds stops the run after its rounds", "[sequence]") {
  test::FakeBench bench;
  bench.meter_v = [](double) { return 1.0; };
  const auto result = bench.run(with("  - repeat: at most 3 times\n    until: a meets high\n    do:\n" + measure_a));
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::wait_ran_out);
  CHECK_THAT(result.error->message, Catch::Contains("did not come about in 3 rounds"));
  CHECK(rounds(bench) == 3);
  CHECK(bench.journal.of<event::BrokenOff>().size() == 1);
}

TEST_CASE("repeat: what never holds goes on with `otherwise` where there is one", "[sequence]") {
  test::FakeBench bench;
  bench.meter_v = [](double) { return 1.0; };
  const auto result = bench.run(with("  - repeat: at most 3 times\n    until: a meets high\n    do:\n" + measure_a +
                                     "    otherwise:\n      - note: It did not settle\n"));
  REQUIRE_FALSE(result.error);
  CHECK(notes(bench).back() == "It did not settle");
}

TEST_CASE("repeat: a number of times needs no condition", "[sequence]") {
  test::FakeBench bench;
  const auto result = bench.run(with("  - repeat: 4 times\n    do:\n" + measure_a));
  REQUIRE_FALSE(result.error);
  CHECK(rounds(bench) == 4);
}

TEST_CASE("repeat: rounds at fixed times begin at those times, from the first on", "[sequence]") {
  test::FakeBench bench;
  const auto result = bench.run(with("  - repeat: every 1 min for 8 h\n    do:\n" + measure_a));
  REQUIRE_FALSE(result.error);
  CHECK(rounds(bench) == 480);
  const auto measured = bench.journal.of<event::Measured>();
  CHECK(measured[479].reading.from_s - measured[0].reading.from_s == Approx(479 * 60.0).margin(0.5));
}

TEST_CASE("repeat: rounds whose time has passed are left out, and the record says so", "[sequence]") {
  test::FakeBench bench;
  const auto result =
      bench.run(with("  - repeat: every 1 s for 10 s\n    do:\n" + measure_a +
                     "      - repeat: 2 times\n        pause: 3 s\n        do:\n          - note: slow\n"));
  REQUIRE_FALSE(result.error);
  CHECK(rounds(bench) < 5);
  const auto all = notes(bench);
  CHECK(std::any_of(all.begin(), all.end(), [](const std::string& n) { return n.find("left out ") == 0; }));
}

TEST_CASE("repeat: the time of the whole ends it between two rounds, and a step that is under way", "[sequence]") {
  test::FakeBench bench;
  const auto result =
      bench.run(with("  - repeat: 100 times\n    pause: 30 s\n    within: 20 s\n    do:\n" + measure_a));
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::wait_ran_out);
  CHECK_THAT(result.error->message, Catch::Contains("within 20 s"));
  CHECK(result.closed_s - result.begun_s < 25);
  CHECK(bench.meter_is_safe);
  test::FakeBench absent;
  absent.person.is_there = false;
  const auto inside = absent.run(
      with("  - repeat: 2 times\n    within: 20 s\n    do:\n      - prompt: Anybody?\n        within: 10 min\n"));
  REQUIRE(inside.error);
  CHECK_THAT(inside.error->message, Catch::Contains("within 20 s, the time of \"repeat: 2 times\"") &&
                                        Catch::Contains("nobody answered \"Anybody?\""));
}

TEST_CASE("repeat: a step inside that breaks off ends it, its `otherwise` is done, and later steps see what is missing",
          "[sequence]") {
  test::FakeBench bench;
  bench.meter_v = [](double) -> double { throw base::Error(base::ErrorCode::bad_answer, "no number"); };
  const auto result = bench.run(with("  - repeat: 3 times\n    do:\n" + measure_a +
                                     "    otherwise:\n      - note: went wrong\n  - judge: a\n    must meet: high\n"));
  REQUIRE_FALSE(result.error);
  const auto all = notes(bench);
  REQUIRE(all.size() == 2);
  CHECK(all[0] == "went wrong");
  CHECK_THAT(all[1], Catch::Contains("left out: there is no a"));
}

TEST_CASE("repeat: a step that finishes the sequence ends all rounds", "[sequence]") {
  test::FakeBench bench;
  const auto result =
      bench.run(with("  - repeat: 5 times\n    do:\n" + measure_a +
                     "      - if: a is above 0 V\n        then:\n          - finish: undecided\n  - note: too far\n"));
  REQUIRE_FALSE(result.error);
  CHECK(rounds(bench) == 1);
  CHECK(result.judgement == Judgement::undecided);
}

TEST_CASE("repeat: what is wrong with its bound is said with what would be right", "[sequence]") {
  const auto mistakes = [](const std::string& bound, const std::string& more = "") {
    return test::mistakes_of(with("  - repeat: " + bound + "\n" + more + "    do:\n" + measure_a));
  };
  CHECK_THAT(mistakes("at most 3 times"), Catch::Contains("nothing ends it before its rounds are over"));
  CHECK_THAT(mistakes("for ever"), Catch::Contains("expected a number from 1 to 1000000 at 'for ever'"));
  CHECK_THAT(mistakes("0 times"), Catch::Contains("expected a number from 1"));
  CHECK_THAT(mistakes("3"), Catch::Contains("expected `times`"));
  CHECK_THAT(mistakes("every 5 V for 3 h"), Catch::Contains("expected a time above zero"));
  CHECK_THAT(mistakes("every 5 min"), Catch::Contains("expected `for`"));
  CHECK_THAT(mistakes("every 5 min for 1 min"), Catch::Contains("not even one round"));
  CHECK_THAT(mistakes("every 1 us for 1 h"), Catch::Contains("more than 1000000 rounds"));
  CHECK_THAT(mistakes("3 times often"), Catch::Contains("'often' is not understood here"));
  CHECK_THAT(mistakes("every 1 min for 1 h", "    pause: 3 s\n"), Catch::Contains("nothing to pause"));
  CHECK_THAT(mistakes("3 times", "    pause: -3 s\n"), Catch::Contains("cannot be negative"));
  CHECK_THAT(mistakes("at most 3 times", "    until: b is above 1 V\n"), Catch::Contains("'b'"));
}
