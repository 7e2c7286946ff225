// SPDX-License-Identifier: Apache-2.0
#include <cmath>

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

TEST_CASE("prompt: it is announced before the answer is awaited, and the answer is recorded with who gave it",
          "[sequence]") {
  test::FakeBench bench;
  std::size_t committed_when_asked = 0;
  bench.person.does = [&](const std::string&) { committed_when_asked = bench.journal.committed; };
  CHECK_FALSE(bench.run(test::around("  - prompt: Insert the disc\n    within: 10 min\n")).error);
  const auto prompted = bench.journal.of<event::Prompted>();
  REQUIRE(prompted.size() == 1);
  CHECK(prompted[0].text == "Insert the disc");
  CHECK(prompted[0].within_s == 600);
  REQUIRE(committed_when_asked > 0);
  CHECK(std::holds_alternative<event::Prompted>(bench.journal.events[committed_when_asked - 1].body));
  const auto answered = bench.journal.of<event::Answered>();
  REQUIRE(answered.size() == 1);
  CHECK(answered[0].answer == "done");
  CHECK(answered[0].by == "the fake operator");
}

TEST_CASE("prompt: is not asked without the instrument that it is about", "[sequence]") {
  std::string text = test::around("  - prompt: Hook up the meter\n    only with: meter\n    within: 1 min\n");
  test::FakeBench bench;
  CHECK_FALSE(bench.run(text).error);
  CHECK(bench.person.asked.size() == 1);
  text.replace(text.find("  meter: { kind"), 2, "helps if there:\n  ");
  test::FakeBench without;
  without.has_meter = false;
  CHECK_FALSE(without.run(text).error);
  CHECK(without.person.asked.empty());
}

namespace {

std::string asking(const std::string& keys, const std::string& after = "") {
  return test::around("  - prompt: Well?\n    within: 10 min\n" + keys + after);
}

}  // namespace

TEST_CASE("prompt: an answer has its name in the record, and later steps decide by it", "[sequence]") {
  test::FakeBench bench;
  bench.person.says = "Y";
  const auto result = bench.run(asking("    answer: yes or no\n    name it: clean\n",
                                       "  - if: clean is yes\n    then:\n      - note: it is clean\n"));
  CHECK_FALSE(result.error);
  const auto answered = bench.journal.of<event::Answered>();
  REQUIRE(answered.size() == 1);
  CHECK(answered[0].answer == "yes");
  CHECK(answered[0].name == "clean");
  CHECK(bench.journal.of<event::Prompted>().at(0).wants == "yes or no");
  CHECK(bench.journal.of<event::Noted>().back().text == "it is clean");
}

TEST_CASE("prompt: what is no answer is asked again with the reason, as often as there is time", "[sequence]") {
  test::FakeBench bench;
  bench.person.says = "the silver one";
  bench.person.does = [&](const std::string&) {
    if (bench.person.asked.size() == 3) bench.person.says = "2";
  };
  CHECK_FALSE(bench.run(asking("    answer: one of\n    choices: [ pressed, recordable ]\n")).error);
  REQUIRE(bench.person.questions.size() == 3);
  CHECK(bench.person.questions[0].again.empty());
  CHECK(bench.person.questions[2].again == "'the silver one' is no answer to it; answer 'pressed' or 'recordable'");
  CHECK(bench.journal.of<event::Answered>().back().answer == "recordable");
}

TEST_CASE("prompt: who never answers rightly ends in an error that says what was asked", "[sequence]") {
  test::FakeBench bench;
  bench.person.says = "perhaps";
  const auto result = bench.run(asking("    answer: yes or no\n"));
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::no_answer);
  CHECK_THAT(result.error->message, Catch::Contains("\"Well?\" was not answered: 'perhaps' is no answer to it"));
}

TEST_CASE("prompt: a value is a reading as sure as the sequence says", "[sequence]") {
  test::FakeBench bench;
  bench.person.says = "1.21 V";
  const auto result =
      bench.run(asking("    answer: a value\n    allowed: 0 V to 5 V\n    give or take: 30 mV\n    name it: by_hand\n  "
                       "  must meet: level\n"));
  REQUIRE_FALSE(result.error);
  REQUIRE(result.readings.size() == 1);
  CHECK(result.readings[0].name == "by_hand");
  CHECK(result.readings[0].value == Approx(1.21));
  CHECK(result.readings[0].unit == "V");
  CHECK(result.readings[0].interval.standard_uncertainty == Approx(0.03 / std::sqrt(3.0)));  // GUM 4.3.7
  CHECK(result.judgement == metrology::Judgement::pass);
}

TEST_CASE("prompt: nothing made of a value passes when nobody said how sure it is", "[sequence]") {
  test::FakeBench bench;
  bench.person.says = "1.21 V";
  const auto result = bench.run(asking("    answer: a value\n    allowed: 0 V to 5 V\n    name it: by_hand\n",
                                       "  - judge: by_hand\n    must meet: level\n"));
  REQUIRE_FALSE(result.error);
  CHECK(result.judgement == metrology::Judgement::undecided);
}

TEST_CASE("prompt: wrong keys for the kind of answer are told", "[sequence]") {
  CHECK_THAT(test::mistakes_of(asking("    answer: one of\n")),
             Catch::Contains("write `choices: [ pressed, recordable ]`"));
  CHECK_THAT(test::mistakes_of(asking("    choices: [ a, b ]\n")),
             Catch::Contains("only `answer: one of` has choices"));
  CHECK_THAT(test::mistakes_of(asking("    answer: one of\n    choices: [ a ]\n")),
             Catch::Contains("there is nothing to choose from"));
  CHECK_THAT(test::mistakes_of(asking("    answer: one of\n    choices: [ a, a ]\n")),
             Catch::Contains("'a' stands there twice"));
  CHECK_THAT(test::mistakes_of(asking("    answer: one of\n    choices: [ a, 'b, c' ]\n")),
             Catch::Contains("'b, c' cannot be a choice"));
  CHECK_THAT(test::mistakes_of(asking("    answer: a value\n")), Catch::Contains("write `allowed: 0 V to 5 V`"));
  CHECK_THAT(test::mistakes_of(asking("    allowed: 0 V to 5 V\n")), Catch::Contains("only `answer: a value` has it"));
  CHECK_THAT(test::mistakes_of(asking("    answer: a value\n    allowed: 0 V to 5 V\n    give or take: 1 s\n")),
             Catch::Contains("give or take") || Catch::Contains("expected"));
  CHECK_THAT(
      test::mistakes_of(asking("    answer: a value\n    allowed: 0 V to 5 V\n    name it: v\n    must meet: level\n")),
      Catch::Contains("nothing says how sure the value is"));
  CHECK_THAT(test::mistakes_of(asking("    name it: it\n")), Catch::Contains("gives no answer that could be named"));
}

TEST_CASE("prompt: a trimmer is turned live only where the model sheet quotes service data", "[sequence]") {
  const sequence::Sequence live = test::checked(test::around(
      "  - prompt: Turn the laser trimmer clockwise by 2 degrees while the disc plays\n    within: 10 min\n"));
  const auto mistakes_with = [&live](const bench::ModelSheet* model) {
    yaml::Mistakes mistakes("test.yaml");
    sequence::check_on_model(live, model, mistakes);
    return mistakes.size();
  };
  bench::ModelSheet sheet = test::model_sheet();
  sheet.trimmer = bench::Trimmer{};
  CHECK(mistakes_with(nullptr) == 1);
  CHECK(mistakes_with(&sheet) == 1);
  sheet.trimmer->player_off_while_turning = false;
  sheet.trimmer->service_data = "service manual, section 5.2";
  CHECK(mistakes_with(&sheet) == 0);
}
