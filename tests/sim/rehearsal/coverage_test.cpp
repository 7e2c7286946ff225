// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/coverage.hpp"

#include <catch2/catch.hpp>

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

std::string steps_text(const sim::Coverage& coverage) {
  std::string text;
  for (const auto& step : coverage.steps()) text += fmt::format("{} {}\n", step.place.verb, step.times);
  return text;
}

std::string branches_text(const sim::Coverage& coverage) {
  std::string text;
  for (const auto& branch : coverage.branches())
    text += fmt::format("{} of {} {}\n", branch.branch, branch.place.verb, branch.times);
  return text;
}

}  // namespace

TEST_CASE("coverage: counts the steps that were done, and names the branch that was not taken", "[sim]") {
  const auto sequence =
      test::checked(test::around(test::capture_step + "  - measure: eye level of pressed\n    name it: level_pressed\n"
                                                      "  - if: level_pressed is below 0.1 V\n"
                                                      "    then:\n      - note: Low\n"
                                                      "    otherwise:\n      - note: Not low\n"));
  const sim::Coverage coverage(sequence);
  CHECK(branches_text(coverage) == "then of if 0\notherwise of if 0\n");
  test::FakeBench bench;
  const auto result = bench.run(coverage.watched());
  REQUIRE(result.ended == "finished");
  INFO(steps_text(coverage));
  CHECK(steps_text(coverage).find("capture 1\nmeasure 1\nif 1\nnote 0\nnote 1\n") != std::string::npos);
  CHECK(branches_text(coverage) == "then of if 0\notherwise of if 1\n");
}

TEST_CASE("coverage: a watched sequence runs as the sequence itself does", "[sim]") {
  const auto sequence = test::checked(test::around(test::capture_step));
  const sim::Coverage coverage(sequence);
  test::FakeBench one, other;
  CHECK(one.run(sequence).closed_s == other.run(coverage.watched()).closed_s);
  CHECK(one.journal.events.size() == other.journal.events.size());
}
