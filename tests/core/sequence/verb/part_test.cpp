// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;
using metrology::Judgement;

namespace {

std::map<std::string, std::string> files;

std::string part(const std::string& steps, const std::string& head = "gives: [ level ]\n") {
  return "part: level-on-disc\nabout: level on one disc\nfilled in:\n  disc: { about: which disc }\n" + head +
         "steps:\n" + steps;
}

const std::string measures =
    "  - note: Now the <disc> disc\n  - measure: d.c. level of dc\n    within: 20 s\n    name it: level\n";

std::string uses(const std::string& more, const std::string& file = "parts/level.yaml") {
  return "  - part: " + file + "\n    within: 1 min\n" + more;
}

sequence::CheckSetting with_parts() {
  return {.parts = [](const std::string& file) {
    const auto it = files.find(file);
    if (it != files.end()) return yaml::load_text(file, it->second);
    yaml::Document missing = yaml::load_text(file, "");
    return missing;
  }};
}

std::string mistakes(const std::string& steps) {
  yaml::Document document = yaml::load_text("test.yaml", test::around(steps));
  sequence::check(document, test::language(), with_parts());
  std::string all;
  for (const yaml::Mistake& m : document.mistakes.list()) all += yaml::print(m) + "\n";
  return all;
}

sequence::Sequence checked(const std::string& steps) {
  yaml::Document document = yaml::load_text("test.yaml", test::around(steps));
  const auto sequence = sequence::check(document, test::language(), with_parts());
  for (const yaml::Mistake& m : document.mistakes.list()) UNSCOPED_INFO(yaml::print(m));
  REQUIRE(sequence);
  return *sequence;
}

}  // namespace

TEST_CASE("part: its steps are done with what is filled in, and its result is brought back under another name",
          "[sequence]") {
  files = {{"parts/level.yaml", part(measures)}};
  test::FakeBench bench;
  const auto result = bench.run(checked(uses("    fill in: { disc: pressed }\n    bring back: { level: before }\n") +
                                        "  - work out: before * 2\n    name it: twice\n"));
  REQUIRE_FALSE(result.error);
  CHECK(bench.journal.of<event::Noted>().front().text == "Now the pressed disc");
  REQUIRE(result.readings.size() == 2);
  CHECK(result.readings[0].name == "before");
  CHECK(bench.journal.of<event::Measured>().front().place.file == "parts/level.yaml");
}

TEST_CASE("part: used twice, its own names do not meet, and those around it are not seen inside", "[sequence]") {
  files = {{"parts/level.yaml", part(measures + "  - work out: level * 2\n    name it: twice\n")}};
  test::FakeBench bench;
  const auto result = bench.run(checked("  - measure: d.c. level of dc\n    within: 20 s\n    name it: twice\n" +
                                        uses("    fill in: { disc: a }\n    bring back: { level: first }\n") +
                                        uses("    fill in: { disc: b }\n    bring back: { level: second }\n")));
  REQUIRE_FALSE(result.error);
  std::vector<std::string> names;
  for (const auto& reading : result.readings) names.push_back(reading.name);
  CHECK(names ==
        std::vector<std::string>{"twice", "first", "level-on-disc-1.twice", "second", "level-on-disc-2.twice"});
  files = {{"parts/level.yaml", part(measures + "  - work out: outside * 2\n    name it: b\n")}};
  CHECK_THAT(mistakes("  - measure: d.c. level of dc\n    within: 20 s\n    name it: outside\n" +
                      uses("    fill in: { disc: a }\n")),
             Catch::Contains("parts/level.yaml:11:15: ") && Catch::Contains("'outside'"));
}

TEST_CASE("part: mistakes inside are told with the part's file, line and column, and at the caller", "[sequence]") {
  files = {{"parts/level.yaml", part("  - nota: x\n", "")}};
  CHECK_THAT(mistakes(uses("    fill in: { disc: a }\n")),
             Catch::Contains("parts/level.yaml:6:5: unknown verb 'nota'; did you mean 'note'?") &&
                 Catch::Contains("the part 'parts/level.yaml' has mistakes"));
}

TEST_CASE("part: what is filled in and brought back must be what the part has", "[sequence]") {
  files = {{"parts/level.yaml", part(measures)}};
  CHECK_THAT(mistakes(uses("")), Catch::Contains("the part wants 'disc' filled in"));
  CHECK_THAT(mistakes(uses("    fill in: { disk: a }\n")),
             Catch::Contains("the part has no 'disk' to be filled in; did you mean 'disc'?"));
  CHECK_THAT(mistakes(uses("    fill in: { disc: a }\n    bring back: { leve: b }\n")),
             Catch::Contains("the part gives no 'leve'; did you mean 'level'?"));
  CHECK_THAT(mistakes(uses("    fill in: disc\n")), Catch::Contains("`fill in` is a group of names"));
  files = {{"parts/level.yaml", part(measures, "gives: [ levle ]\n")}};
  CHECK_THAT(mistakes(uses("    fill in: { disc: a }\n")),
             Catch::Contains("parts/level.yaml:5:10: no step of the part gives 'levle'; did you mean 'level'?"));
}

TEST_CASE("part: no part may use itself, leave the folder, or be anything but a part", "[sequence]") {
  files = {{"parts/level.yaml", part("  - part: other.yaml\n    within: 1 min\n", "")},
           {"parts/other.yaml",
            "part: other\nabout: x\nsteps:\n  - part: level.yaml\n    within: 1 min\n    fill in: { disc: a }\n"}};
  CHECK_THAT(mistakes(uses("    fill in: { disc: a }\n")),
             Catch::Contains("the part 'parts/level.yaml' would use itself"));
  CHECK_THAT(mistakes(uses("", "../level.yaml")), Catch::Contains("leaves the folder of the sequence"));
  CHECK_THAT(mistakes(uses("", "/etc/level.yaml")), Catch::Contains("leaves the folder of the sequence"));
  CHECK_THAT(mistakes(uses("", "parts/level.txt")), Catch::Contains("does not end in .yaml"));
  files = {{"parts/level.yaml", test::around("  - note: x\n")}};
  CHECK_THAT(mistakes(uses("")),
             Catch::Contains("parts/level.yaml") && Catch::Contains("unknown key 'sequence' in a part"));
}

TEST_CASE("part: needs a time for all of it", "[sequence]") {
  files = {{"parts/level.yaml", part(measures)}};
  CHECK_THAT(mistakes("  - part: parts/level.yaml\n    fill in: { disc: a }\n"),
             Catch::Contains("'within' is missing"));
}
