// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;
using metrology::Judgement;

namespace {

const std::string measured = "  - measure: d.c. level of dc\n    within: 20 s\n    name it: a\n";

std::string with(const std::string& steps) {
  return test::around(measured + steps, "  wide: 2 V to 3 V\n  high: at least 2.9 V\n");
}

std::vector<std::string> notes(test::FakeBench& bench) {
  std::vector<std::string> all;
  for (const auto& noted : bench.journal.of<event::Noted>()) all.push_back(noted.text);
  return all;
}

const std::string branches = "\n    then:\n      - note: yes it was\n    otherwise:\n      - note: no it was not\n";

}  // namespace

TEST_CASE("if: where the condition holds `then` is done, and the record says why", "[sequence]") {
  test::FakeBench bench;
  bench.meter_v = [](double) { return 2.5; };
  const auto result = bench.run(with("  - if: a is below 3 V" + branches));
  REQUIRE_FALSE(result.error);
  CHECK(notes(bench) == std::vector<std::string>{"yes: a is 2.5 V, below 3 V", "yes it was"});
}

TEST_CASE("if: where it does not hold `otherwise` is done, and nothing is judged by it", "[sequence]") {
  test::FakeBench bench;
  bench.meter_v = [](double) { return 2.5; };
  const auto result = bench.run(with("  - if: a meets high" + branches));
  REQUIRE_FALSE(result.error);
  CHECK(notes(bench).back() == "no it was not");
  CHECK_FALSE(result.judgement);
}

TEST_CASE("if: without `otherwise` the run goes on", "[sequence]") {
  test::FakeBench bench;
  bench.meter_v = [](double) { return 2.5; };
  const auto result =
      bench.run(with("  - if: a is above 3 V\n    then:\n      - note: high\n  - note: here all the same\n"));
  REQUIRE_FALSE(result.error);
  CHECK(notes(bench) == std::vector<std::string>{"no: a is 2.5 V, not above 3 V", "here all the same"});
}

TEST_CASE("if: what cannot be worked out stops the run, and no branch is done", "[sequence]") {
  test::FakeBench bench;
  const auto result = bench.run(with("  - if: a / (a - a) is above 3" + branches));
  REQUIRE(result.error);
  CHECK_THAT(result.error->message, Catch::Contains("which is 0"));
  CHECK(notes(bench).empty());
}

TEST_CASE("if: a reading that an earlier branch was to give leaves it out, and says so", "[sequence]") {
  test::FakeBench bench;
  bench.meter_v = [](double) { return 2.5; };
  const auto result =
      bench.run(with("  - if: a is above 3 V\n    then:\n      - measure: d.c. level of dc\n        within: "
                     "20 s\n        name it: b\n  - if: b is above 1 V" +
                     branches));
  REQUIRE_FALSE(result.error);
  CHECK_THAT(notes(bench).back(), Catch::StartsWith("left out: "));
}

TEST_CASE("if: mistakes in its condition and its branches stand where they are", "[sequence]") {
  CHECK_THAT(test::mistakes_of(with("  - if: a is below 3 s" + branches)),
             Catch::Contains("26:11: 'a' is a voltage, '3 s' is a time: they cannot be compared"));
  CHECK_THAT(test::mistakes_of(with("  - if: a meets wild" + branches)), Catch::Contains("unknown limit 'wild'"));
  CHECK_THAT(test::mistakes_of(with("  - if: 2 V is below 3 V" + branches)),
             Catch::Contains("no reading stands in it"));
  CHECK_THAT(test::mistakes_of(with("  - if: a is below 3 V\n")), Catch::Contains("'then' is missing"));
  CHECK_THAT(test::mistakes_of(with("  - if: a is below 3 V\n    then: nothing\n")),
             Catch::Contains("`then` is a list of steps"));
  CHECK_THAT(test::mistakes_of(with("  - if: a is below 3 V\n    then:\n      - nota: x\n")),
             Catch::Contains("unknown verb 'nota'; did you mean 'note'?"));
}

TEST_CASE("finish: no further step is done, the closing is, and the judgement is as asked", "[sequence]") {
  for (const auto& [how, judgement] :
       {std::pair{"fail", std::optional(Judgement::fail)}, std::pair{"undecided", std::optional(Judgement::undecided)},
        std::pair{"as judged", std::optional(Judgement::pass)}}) {
    CAPTURE(how);
    test::FakeBench bench;
    bench.meter_v = [](double) { return 2.5; };
    const auto result =
        bench.run(with("  - judge: a\n    must meet: wide\n  - if: a is below 3 V\n    then:\n      - finish: " +
                       std::string(how) + "\n  - note: too far\n"));
    REQUIRE_FALSE(result.error);
    CHECK(result.ended == "finished");
    CHECK(result.judgement == judgement);
    CHECK(notes(bench) == std::vector<std::string>{"yes: a is 2.5 V, below 3 V", "finished here"});
    CHECK(bench.meter_is_safe);
  }
}

TEST_CASE("finish: in the opening the steps are not begun", "[sequence]") {
  test::FakeBench bench;
  std::string text = with("  - note: too far\n");
  text.insert(text.find("steps:\n"), "  - finish: undecided\n");
  const auto result = bench.run(text);
  REQUIRE_FALSE(result.error);
  CHECK(result.readings.empty());
  CHECK(result.judgement == Judgement::undecided);
}

TEST_CASE("finish: a step behind it in the same list is never reached, and the check says so", "[sequence]") {
  CHECK_THAT(test::mistakes_of(with("  - finish: fail\n  - note: too far\n")),
             Catch::Contains("27:5: this step is never reached, the one before it ends the sequence"));
}
