// SPDX-License-Identifier: Apache-2.0
// What check makes of right files; its messages about wrong ones are in tests/golden.
#include "core/sequence/language/check.hpp"

#include <fstream>
#include <sstream>

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

std::string file_text(const std::string& path) {
  std::ifstream file(path);
  REQUIRE(file);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

}  // namespace

TEST_CASE("check: every ready sequence is right, and the bench of the examples can run it", "[sequence]") {
  for (const char* name : {"pickup-level", "level-on-two-discs", "level-cross-check", "level-before-and-after",
                           "level-by-multimeter", "level-soak", "adjust"}) {
    CAPTURE(name);
    yaml::Document document = yaml::load_file(fmt::format("sequences/ready/{}.yaml", name));
    const auto sequence = sequence::check(document, test::language());
    for (const auto& m : document.mistakes.list()) UNSCOPED_INFO(yaml::print(m));
    REQUIRE(sequence);
    CHECK(document.mistakes.list().empty());
    CHECK(sequence->name == name);
    CHECK(sequence->cautions.size() >= 2);
    CHECK(sequence->closing.size() == 1);
    const auto bench = bench::read_bench_file("examples/bench.yaml");
    REQUIRE(bench.mistakes.fine());
    sequence::check_on_bench(*sequence, bench.bench, document.mistakes);
    for (const auto& m : document.mistakes.list()) UNSCOPED_INFO(yaml::print(m));
    CHECK(document.mistakes.list().empty());
  }
}

TEST_CASE("check: the level sequence is read as it is written", "[sequence]") {
  const auto s = test::checked(file_text("sequences/ready/pickup-level.yaml"));
  REQUIRE(s.roles.size() == 2);
  CHECK(s.roles[0].rate_hz == Approx(20e6));
  CHECK(s.roles[0].points == Approx(600e3));
  CHECK_FALSE(s.roles[1].required);
  REQUIRE(s.limits.size() == 1);
  CHECK(*s.limits[0].limit.at_least == Approx(1.08));
  CHECK(*s.limits[0].limit.at_most == Approx(1.32));
  REQUIRE(s.steps.size() == 4);
  CHECK(s.steps[0].place.text == "prompt: Insert the pressed test disc and start track 2");
  CHECK(s.steps[0].place.number == 1);
  CHECK(s.steps[0].within == std::chrono::minutes(10));
  CHECK(s.steps[2].place.verb == "capture");
  CHECK(s.steps[2].name_it == "pressed");
  REQUIRE(s.steps[3].must_meet);
  CHECK(s.steps[3].must_meet->name == "level");
  CHECK(s.opening.at(0).place.part == "opening");
}

TEST_CASE("check: +/- stands for the sign that not every keyboard has", "[sequence]") {
  const auto s = test::checked(test::around("  - note: hello\n", "  level: 1.20 V +/- 10 %\n"));
  CHECK(*s.limits[0].limit.at_least == Approx(1.08));
}

TEST_CASE("check: texts that YAML 1.1 would take for truth values stay texts", "[sequence]") {
  const auto s = test::checked(test::around("  - note: NO\n  - note: on\n  - note: 00417\n"));
  CHECK(s.steps[0].place.text == "note: NO");
  CHECK(s.steps[1].place.text == "note: on");
  CHECK(s.steps[2].place.text == "note: 00417");
}

TEST_CASE("check: steps under otherwise belong to the same number", "[sequence]") {
  const auto s =
      test::checked(test::around("  - note: a\n  - prompt: b\n    within: 1 min\n    otherwise:\n      - note: c\n"));
  REQUIRE(s.steps[1].has_otherwise);
  CHECK(s.steps[1].otherwise.at(0).place.number == 2);
  CHECK(s.steps[1].otherwise.at(0).place.text == "note: c");
}

TEST_CASE("check: what one branch gives is not there in the other", "[sequence]") {
  const std::string measured = "measure: d.c. level of dc\n        within: 9 s\n        name it: ";
  const std::string first = "  - measure: d.c. level of dc\n    within: 9 s\n    name it: a\n    must meet: level\n";
  const std::string text =
      test::mistakes_of(test::around(first + "  - if: a is above 1 V\n    then:\n      - " + measured +
                                     "b\n    otherwise:\n      - judge: b\n        must meet: level\n"));
  CHECK_THAT(text, Catch::Contains("'b' is given in line 30, but not where this step is done"));
}

TEST_CASE("check: both branches may give a result of one name, if it is of one kind", "[sequence]") {
  const std::string first = "  - measure: d.c. level of dc\n    within: 9 s\n    name it: a\n    must meet: level\n";
  const auto branches = [&](const std::string& b, const std::string& other) {
    return test::mistakes_of(test::around(first + "  - if: a is above 1 V\n    then:\n      - work out: " + b +
                                          "\n        name it: b\n    otherwise:\n      - work out: " + other +
                                          "\n        name it: b\n  - work out: b + 1 V\n    name it: c\n"));
  };
  CHECK(branches("a + 1 V", "a - 1 V").empty());
  CHECK_THAT(branches("a + 1 V", "a / a"), Catch::Contains("'b' is something else in line"));
}

TEST_CASE("check: a step behind an `if` whose branches both finish is never reached", "[sequence]") {
  const std::string first = "  - measure: d.c. level of dc\n    within: 9 s\n    name it: a\n    must meet: level\n";
  const std::string both =
      "  - if: a is above 1 V\n    then:\n      - finish: fail\n    otherwise:\n      - finish: as judged\n";
  CHECK_THAT(test::mistakes_of(test::around(first + both + "  - note: never\n")),
             Catch::Contains("this step is never reached"));
  CHECK_THAT(test::mistakes_of(test::around(first + "  - in this order:\n      - finish: fail\n  - note: never\n")),
             Catch::Contains("this step is never reached"));
  CHECK(test::mistakes_of(test::around(first + both)).empty());
}
