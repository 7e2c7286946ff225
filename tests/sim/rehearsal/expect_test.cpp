// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/expect.hpp"

#include <catch2/catch.hpp>

#include "core/yaml/load.hpp"

using namespace eyelevel;

namespace {

std::string mistakes_of(const std::string& text) {
  const auto read = sim::read_expectations(yaml::load_text("e.yaml", text), sim::ready_troubles());
  std::string all;
  for (const auto& mistake : read.mistakes.list()) all += yaml::print(mistake) + "\n";
  return all;
}

const std::string head = "expectations: days\nsequence: ../ready/pickup-level.yaml\ncases:\n";

}  // namespace

TEST_CASE("expectations: are read with their seed, units, troubles and what must come of them", "[sim]") {
  const auto read = sim::read_expectations(
      yaml::load_text("sequences/expect/e.yaml",
                      head + "  - { name: dead, seed: 11, units: 3, troubles: [ laser dead ], ended: stopped, error: "
                             "wait_ran_out, told: no eye }\n"),
      sim::ready_troubles());
  REQUIRE(read.mistakes.fine());
  CHECK(read.expectations.sequence_path() == "sequences/ready/pickup-level.yaml");
  const auto& expected = read.expectations.list.at(0);
  CHECK(expected.seed == 11);
  CHECK(expected.units == 3);
  CHECK(expected.troubles == std::vector<std::string>{"laser dead"});
  CHECK(expected.ended == "stopped");
  CHECK(expected.error == "wait_ran_out");
  CHECK(expected.told == "no eye");
}

TEST_CASE("expectations: each mistake is told with its place and what would be right", "[sim]") {
  CHECK(mistakes_of(head + "  - { name: a, seed: 1, trouble: [ hum ], ended: stopped }\n") ==
        "e.yaml:4:25: unknown key 'trouble' in an expectation; write 'troubles'\n");
  CHECK(mistakes_of(head + "  - { name: a, seed: 1, troubles: [ laser deed ], ended: stopped }\n") ==
        "e.yaml:4:37: unknown trouble 'laser deed'; did you mean 'laser dead'?\n");
  CHECK(mistakes_of(head + "  - { name: a, seed: 1 }\n") ==
        "e.yaml:4:5: 'a' expects nothing; write `ended`, `judgement`, `error` or `told`\n");
  CHECK(mistakes_of(head + "  - { name: a, seed: 1, units: 0, ended: finished }\n")
            .starts_with("e.yaml:4:32: 'units': from 1 to 10000"));
  CHECK(mistakes_of(head + "  - { name: a, seed: 99999999999999999, ended: finished }\n")
            .starts_with("e.yaml:4:22: 'seed'"));
  CHECK(mistakes_of(head + "  - { name: a, seed: 1, ended: done }\n").starts_with("e.yaml:4:32: "));
  CHECK(mistakes_of(head + "  - { name: a, seed: 1, error: timeout }\n").find("time_out") != std::string::npos);
  CHECK(mistakes_of(head + "  - { name: a, seed: 1, told: b }\n  - { name: a, seed: 2, told: b }\n")
            .starts_with("e.yaml:5:13: the name 'a' stands here a second time"));
  CHECK(mistakes_of("expectations: days\nsequence: a.yaml\ncases: []\n").find("e.yaml:3:") == 0);
}

TEST_CASE("expectations: what is not met is said, and a unit that does not end as it must never meets any", "[sim]") {
  sim::UnitOutcome unit;
  unit.result.ended = "stopped";
  unit.result.error = base::ErrorRecord{};
  unit.result.error->code = base::ErrorCode::time_out;
  unit.told = {"no answer within 2 s"};
  CHECK(sim::what_is_not_met({.ended = "stopped", .judgement = "none", .error = "time_out", .told = "no answer"}, unit)
            .empty());
  CHECK(sim::what_is_not_met({.ended = "finished"}, unit).starts_with("stopped"));
  CHECK(sim::what_is_not_met({.judgement = "pass"}, unit) == "judged none, not pass");
  CHECK(sim::what_is_not_met({.error = "bad_answer"}, unit) == "time_out, not bad_answer");
  CHECK(sim::what_is_not_met({.told = "no eye"}, unit) == "\"no eye\" was not told; told was: no answer within 2 s");
  unit.wrong = "the run was not stopped by the trouble";
  CHECK(sim::what_is_not_met({.ended = "stopped"}, unit) == unit.wrong);
}
