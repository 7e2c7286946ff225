// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/asked.hpp"

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;
using metrology::Judgement;

namespace {

std::string with(const std::string& asked, const std::string& limits, const std::string& steps) {
  std::string text = test::around(steps, limits);
  text.insert(text.find("limits:"), "asked at start:\n" + asked);
  return text;
}

const std::string target = "  target: { about: level from the model sheet, usual: 2.50 V, allowed: 2 V to 3 V }\n";
const std::string measure = "  - measure: d.c. level of dc\n    within: 20 s\n    name it: a\n    must meet: wide\n";

sequence::Sequence checked(const std::string& text, const std::map<std::string, std::string>& set) {
  yaml::Document document = yaml::load_text("test.yaml", text);
  const auto sequence = sequence::check(document, test::language(), {.parts = {}, .set = set});
  REQUIRE(sequence);
  return *sequence;
}

}  // namespace

TEST_CASE("asked at start: a limit may be made from it, with the usual value or the one that is set", "[sequence]") {
  const std::string text = with(target, "  wide: target ± 10 %\n", measure);
  CHECK(test::checked(text).limits.front().limit.at_least == Approx(2.25));
  CHECK(checked(text, {{"target", "2.0 V"}}).limits.front().limit.at_most == Approx(2.2));
  test::FakeBench bench;
  bench.meter_v = [](double) { return 2.5; };
  const auto sequence = checked(text, {{"target", "2.0 V"}});
  CHECK(bench.run(sequence).judgement == Judgement::fail);
  const auto given = bench.journal.of<event::Begun>().front().given;
  REQUIRE(given.size() == 1);
  CHECK(given.front().name == "target");
  CHECK(given.front().value == "2.0 V");
}

TEST_CASE("asked at start: expressions and conditions know it, and it is no reading of the run", "[sequence]") {
  test::FakeBench bench;
  bench.meter_v = [](double) { return 2.5; };
  const auto result =
      bench.run(with(target, "  wide: 2 V to 3 V\n",
                     measure + "  - work out: a / target\n    name it: r\n  - if: a is below target + 1 "
                               "V\n    then:\n      - note: below\n"));
  REQUIRE_FALSE(result.error);
  REQUIRE(result.readings.size() == 2);
  CHECK(result.readings[1].value == Approx(1).epsilon(0.01));
  CHECK(bench.journal.of<event::Noted>().back().text == "below");
}

TEST_CASE("asked at start: a quantity of a step may be its name", "[sequence]") {
  const auto sequence = test::checked(with("  patience: { about: how long, usual: 7 s }\n", "  wide: 2 V to 3 V\n",
                                           "  - measure: d.c. level of dc\n    within: patience\n    name it: a\n"));
  CHECK(sequence.steps.front().within == std::chrono::seconds(7));
}

TEST_CASE("asked at start: only whole words are its name", "[sequence]") {
  CHECK_THAT(test::mistakes_of(with(target, "  wide: targets ± 10 %\n", measure)), Catch::Contains("targets"));
}

TEST_CASE("asked at start: values that are not allowed are refused with what is", "[sequence]") {
  const auto sequence = test::checked(with(target, "  wide: target ± 10 %\n", measure));
  const auto& asked = sequence.asked.front();
  CHECK(sequence::allowed_value(asked, "2.2 V"));
  CHECK_THAT(sequence::allowed_value(asked, "4 V").error().message, Catch::Contains("4 V is not allowed"));
  CHECK_THAT(sequence::allowed_value(asked, "4 V").error().suggestion, Catch::Contains("it must be 2 V to 3 V"));
  CHECK_FALSE(sequence::allowed_value(asked, "2 s"));
  CHECK_FALSE(sequence::allowed_value(asked, "two"));
}

TEST_CASE("asked at start: mistakes stand where they are", "[sequence]") {
  const auto mistakes = [](const std::string& asked) {
    return test::mistakes_of(with(asked, "  wide: 2 V to 3 V\n", measure));
  };
  CHECK_THAT(mistakes("  t: { about: x }\n"), Catch::Contains("nothing says what kind of value 't' is"));
  CHECK_THAT(mistakes("  t: { about: x, usual: much }\n"), Catch::Contains("'usual'"));
  CHECK_THAT(mistakes("  t: { about: x, usual: 4 V, allowed: 1 V to 2 V }\n"),
             Catch::Contains("'usual': 4 V is not allowed; it must be 1 V to 2 V"));
  CHECK_THAT(mistakes("  t: { about: x, usual: 4 s, allowed: 1 V to 2 V }\n"), Catch::Contains("expected a voltage"));
  CHECK_THAT(mistakes("  rf: { about: x, usual: 4 s }\n"), Catch::Contains("'rf' is already the name of a signal"));
}

TEST_CASE("asked at start: a mistake in a text that its value was put into stands where the text begins",
          "[sequence]") {
  CHECK_THAT(test::mistakes_of(with("  patience: { about: how long, usual: 7 s }\n", "  wide: 2 V to 3 V\n",
                                    "  - measure: d.c. level of dc\n    within: patience or more\n    name it: a\n")),
             Catch::Contains("13: '"));
}
