// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/unused.hpp"

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

std::string warnings_of(const std::string& text) {
  yaml::Document document = yaml::load_text("test.yaml", text);
  CHECK(sequence::check(document, test::language()));
  std::string all;
  for (const yaml::Mistake& m : document.mistakes.list()) all += yaml::print(m) + "\n";
  return all;
}

std::string file_with(const std::string& head, const std::string& steps) {
  return "sequence: test\nabout: a test\nneeds:\n  meter: { kind: multimeter }\nsignals:\n  dc: meter\n" + head +
         "opening:\n  - set up: dc\n    range: 5 V\n    within: 5 s\nsteps:\n" + steps +
         "closing:\n  - make safe: every instrument\n    within: 10 s\n";
}

}  // namespace

TEST_CASE("unused: a limit that judges nothing is a warning at its place", "[sequence]") {
  CHECK(warnings_of(file_with("limits:\n  level: 1 V to 2 V\n", "  - note: hello\n")) ==
        "test.yaml:8:3: warning: nothing is held against the limit 'level'; write `must meet: level` where it is to "
        "judge, or leave it out\n");
  CHECK(warnings_of(file_with("limits:\n  level: 1 V to 2 V\n",
                              "  - measure: d.c. level of dc\n    within: 9 s\n    name it: a\n"
                              "  - if: a meets level\n    then:\n      - note: good\n"))
            .empty());
}

TEST_CASE("unused: what is asked at the start counts as used by a limit", "[sequence]") {
  const std::string asked = "asked at start:\n  target: { about: level, usual: 1.2 V }\n";
  CHECK_THAT(warnings_of(file_with(asked, "  - note: hello\n")),
             Catch::Contains("nothing depends on 'target', which is asked"));
  CHECK(warnings_of(file_with(asked + "limits:\n  level: target ± 10 %\n",
                              "  - measure: d.c. level of dc\n    within: 9 s\n    must meet: level\n"))
            .empty());
}

TEST_CASE("unused: captures of which nothing is made are a warning", "[sequence]") {
  const std::string judged = "  - measure: d.c. level of dc\n    within: 9 s\n    must meet: level\n";
  CHECK_THAT(warnings_of(test::around(test::capture_step + judged)),
             Catch::Contains("warning: nothing is made of 'pressed'"));
  CHECK(warnings_of(
            test::around(test::capture_step + "  - measure: eye level of pressed\n    must meet: level\n" + judged))
            .empty());
}

TEST_CASE("unused: words are what a name can be", "[sequence]") {
  yaml::Node node;
  node.text = "level_1 - target, (a.b) * 2";
  std::set<std::string> words;
  sequence::add_words(node, words);
  CHECK(words == std::set<std::string>{"-", "2", "a.b", "level_1", "target"});
}
