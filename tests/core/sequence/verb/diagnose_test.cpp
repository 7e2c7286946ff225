// SPDX-License-Identifier: Apache-2.0
#include <fstream>
#include <sstream>

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

const std::string measured = test::capture_step +
                             "  - measure: eye level of pressed\n    name it: level_pressed\n"
                             "  - prompt: How do other discs behave?\n    answer: one of\n    choices: [ alike, one, "
                             "pressed, weak, not known ]\n    name it: others\n    within: 1 min\n";

std::string diagnosing(const std::string& keys, const std::string& before = measured) {
  return test::around(before + "  - diagnose: pickup\n" + keys);
}

const std::string usual = "    from: { level: level_pressed, discs: others }\n";

// The answer to the prompt of `measured` first, then these to the checks.
void answers(test::FakeBench& bench, const std::string& others, const std::string& check) {
  bench.person.says = others;
  bench.person.does = [&bench, others, check](const std::string& text) {
    bench.person.says = text == "How do other discs behave?" ? others : check;
  };
}

}  // namespace

TEST_CASE("diagnose: findings are told with what speaks for them, and the check that would tell most", "[sequence]") {
  test::FakeBench bench;
  bench.unit.level_v = [](double) { return 0.90; };
  answers(bench, "weak", "");
  const auto result = bench.run(diagnosing(usual));
  REQUIRE_FALSE(result.error);
  const auto told = bench.journal.of<event::Diagnosed>();
  REQUIRE(told.size() == 1);
  CHECK(std::any_of(told[0].findings.begin(), told[0].findings.end(), [](const event::Finding& f) {
    return f.belief && f.because.find("weakly reflecting discs are the worst (speaks ") != std::string::npos;
  }));
  CHECK_THAT(told[0].next_check, Catch::StartsWith("With the player off, clean the lens"));
}

TEST_CASE("diagnose: where no cause is believed to 60 %, the answer is don't know, with the likeliest behind it",
          "[sequence]") {
  test::FakeBench bench;
  answers(bench, "not known", "");
  REQUIRE_FALSE(bench.run(diagnosing(usual)).error);
  const auto told = bench.journal.of<event::Diagnosed>();
  REQUIRE(told.size() == 1);
  CHECK(told[0].findings.at(0).cause == "don't know");
  CHECK_FALSE(told[0].findings[0].belief);
  CHECK(told[0].findings.at(1).belief);
}

TEST_CASE("diagnose: it asks for the next check, and what that shows settles it", "[sequence]") {
  test::FakeBench bench;
  bench.unit.level_v = [](double) { return 0.90; };
  answers(bench, "weak", "helps");
  const auto result = bench.run(diagnosing(usual + "    ask at most: 1\n    within: 10 min\n"));
  REQUIRE_FALSE(result.error);
  const auto told = bench.journal.of<event::Diagnosed>();
  REQUIRE(told.size() == 2);
  CHECK(told[1].findings.at(0).cause == "lens dirty");
  CHECK(bench.person.questions.back().choices == std::vector<std::string>{"no", "helps", "not known"});
  CHECK(bench.journal.of<event::Answered>().back().name == "clean lens");
}

TEST_CASE("diagnose: who cannot do a check is asked for another one", "[sequence]") {
  test::FakeBench bench;
  bench.unit.level_v = [](double) { return 0.90; };
  answers(bench, "weak", "not known");
  REQUIRE_FALSE(bench.run(diagnosing(usual + "    ask at most: 3\n    within: 60 min\n")).error);
  const auto told = bench.journal.of<event::Diagnosed>();
  REQUIRE(told.size() == 4);
  for (std::size_t i = 0; i < told[0].findings.size(); ++i)
    CHECK(told[3].findings.at(i).because == told[0].findings[i].because);
  CHECK(told[1].next_check != told[0].next_check);
}

TEST_CASE("diagnose: an answer that is not known tells nothing", "[sequence]") {
  test::FakeBench bench;
  answers(bench, "not known", "");
  REQUIRE_FALSE(bench.run(diagnosing(usual)).error);
  const auto told = bench.journal.of<event::Diagnosed>();
  REQUIRE(told.size() == 1);
  for (const auto& finding : told[0].findings) CHECK_THAT(finding.because, !Catch::Contains("discs"));
}

TEST_CASE("diagnose: the level is held against the reading that is named, not against the model sheet", "[sequence]") {
  test::FakeBench bench;
  bench.person.does = [&](const std::string& text) { bench.person.says = text == "What was it?" ? "0.8 V" : "alike"; };
  const std::string told =
      "  - prompt: What was it?\n    answer: a value\n    allowed: 0 V to 5 V\n    name it: was\n"
      "    within: 1 min\n";
  REQUIRE_FALSE(bench.run(diagnosing(usual + "    against: { level: was }\n", measured + told)).error);
  const auto findings = bench.journal.of<event::Diagnosed>().at(0).findings;
  CHECK(std::any_of(findings.begin(), findings.end(), [](const event::Finding& f) {
    return f.because.find("50 % above the reference") != std::string::npos;
  }));
}

TEST_CASE("diagnose: without a model sheet a level that nothing is known of is left out, and the record says so",
          "[sequence]") {
  test::FakeBench bench;
  bench.model.reset();
  answers(bench, "alike", "");
  REQUIRE_FALSE(bench.run(diagnosing(usual)).error);
  const auto notes = bench.journal.of<event::Noted>();
  CHECK(std::any_of(notes.begin(), notes.end(), [](const event::Noted& n) {
    return n.text.starts_with("the level was not looked at: neither `against` nor the model sheet says");
  }));
}

TEST_CASE("diagnose: every mistake is told with what would be right", "[sequence]") {
  CHECK_THAT(test::mistakes_of(diagnosing("    from: { levle: level_pressed }\n")),
             Catch::Contains("unknown key 'levle' in the evidence; write 'level'"));
  CHECK_THAT(test::mistakes_of(diagnosing("    from: { jitter: level_pressed }\n")),
             Catch::Contains("'level_pressed' is a voltage, which does not tell the jitter") &&
                 Catch::Contains("name a time"));
  CHECK_THAT(test::mistakes_of(diagnosing("    from: { top: level_pressed }\n")),
             Catch::Contains("nothing says what top ought to be"));
  CHECK_THAT(test::mistakes_of(diagnosing("    from: { discs: level_pressed }\n")), Catch::Contains("name an answer"));
  CHECK_THAT(test::mistakes_of(diagnosing("    from: { focus: others }\n")),
             Catch::Contains("what 'others' may be answered does not tell the focus search"));
  CHECK_THAT(test::mistakes_of(diagnosing("    from: {}\n")), Catch::Contains("nothing to go by"));
  CHECK_THAT(test::mistakes_of(diagnosing(usual + "    against: { top: level_pressed }\n")),
             Catch::Contains("nothing under `from` is held against it: top"));
  CHECK_THAT(test::mistakes_of(diagnosing(usual + "    ask at most: 2\n")),
             Catch::Contains("nothing says how long somebody may take"));
}

TEST_CASE("diagnose: the ready sequence goes through on a good unit whose operator answers with the first choice",
          "[sequence]") {
  test::FakeBench bench;
  bench.person.does = [&](const std::string&) {
    const bench::Question& question = bench.person.questions.back();
    bench.person.says = question.choices.empty() ? "done" : question.choices.front();
  };
  bench.meter_v = [](double t) { return t < 150 ? 0.4 : 1.49; };
  std::ifstream file("sequences/ready/diagnose.yaml");
  std::ostringstream text;
  text << file.rdbuf();
  const auto result = bench.run(text.str());
  INFO((result.error ? base::describe(*result.error) : std::string()));
  REQUIRE(result.ended == "finished");
  const auto told = bench.journal.of<event::Diagnosed>();
  REQUIRE(told.size() >= 1);
  CHECK(result.readings.size() >= 12);
}
