// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/table.hpp"

#include <cstdlib>
#include <fstream>
#include <set>
#include <sstream>

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

TEST_CASE("schema: the file for editors is the one that the tables give", "[sequence]") {
  const std::string path = "sequences/schema/sequence.schema.json";
  const std::string made = sequence::sequence_schema(test::language());
  if (std::getenv("EYELEVEL_RENEW_GOLDEN")) std::ofstream(path) << made;
  std::ifstream file(path);
  std::ostringstream text;
  text << file.rdbuf();
  CHECK(text.str() == made);
}

TEST_CASE("schema: every key of every verb is in it", "[sequence]") {
  const std::string made = sequence::sequence_schema(test::language());
  for (const auto& verb : test::language().verbs.list())
    for (const yaml::Key& key : verb.declaration.parameters.keys)
      CHECK(made.find("\"" + key.name + "\"") != std::string::npos);
}

TEST_CASE("verbs: each begins its own table, says what it is for, and its example checks", "[sequence]") {
  // What the examples refer to.
  const std::string before = test::capture_step +
                             "  - measure: eye level of pressed\n    name it: level_1\n"
                             "  - measure: eye level of pressed\n    name it: level_2\n"
                             "  - measure: eye level of pressed\n    name it: level_after\n"
                             "  - measure: eye level of pressed\n    name it: level_before\n";
  const std::string limits = "  level: 1.20 V ± 10 %\n  half_to_double: 0.5 to 2\n";
  // The file that the example of `part` names.
  const sequence::CheckSetting setting{.parts = [](const std::string& file) {
    return yaml::load_text(
        file,
        "part: level-on-disc\nabout: x\nfilled in:\n  signal: { about: x }\n  disc: { about: x }\n  track: { "
        "about: x }\ngives: [ level ]\nsteps:\n  - note: <signal>, <disc>, <track>\n  - measure: d.c. level of "
        "dc\n    within: 20 s\n    name it: level\n");
  }};
  std::set<std::string> seen;
  for (const auto& verb : test::language().verbs.list()) {
    const auto& d = verb.declaration;
    CAPTURE(d.name);
    CHECK(seen.insert(d.name).second);
    REQUIRE_FALSE(d.parameters.keys.empty());
    CHECK(d.parameters.keys.front().name == d.name);
    CHECK(d.parameters.keys.front().required);
    CHECK_FALSE(d.about.empty());
    std::string example = d.example;
    if (d.name == "judge") example.replace(example.find("level_pressed"), 13, "level_1");
    const auto rename = [&](const std::string& from, const std::string& to) {
      if (const auto at = example.find(from); at != std::string::npos) example.replace(at, from.size(), to);
    };
    rename("name it: pressed", "name it: pressed_2");
    rename("level: level_before", "level: level_brought_back");
    if (d.name == "adjust") rename("name it: level_after", "name it: level_adjusted");
    std::string indented;
    std::istringstream lines(example);
    for (std::string line; std::getline(lines, line);) indented += "  " + line + "\n";
    const bool of_outputs = d.name == "switch on" || d.name == "switch off" || d.name == "route";
    std::string text = of_outputs ? test::around_outputs(indented) : test::around(before + indented, limits);
    text.insert(text.find("needs:"), "cautions:\n  - invisible laser radiation\n");  // of `adjust`
    CHECK(test::mistakes_of(text, setting) == "");
  }
}
