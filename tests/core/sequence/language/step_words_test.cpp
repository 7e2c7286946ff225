// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/step_words.hpp"

#include <catch2/catch.hpp>

#include "core/yaml/load.hpp"

using namespace eyelevel;

namespace {

yaml::Key key(const std::string& name, yaml::Type type) {
  yaml::Key made;
  made.name = name;
  made.type = type;
  return made;
}
yaml::Node step(const std::string& text) { return yaml::load_text("s.yaml", text).root; }

}  // namespace

TEST_CASE("step words: a step is its verb with what stands behind it in one line", "[sequence]") {
  CHECK(sequence::step_in_words(step("note: Now the\n  disc\n").entries.front()) == "note: Now the disc");
  CHECK(sequence::step_in_words(step("average: [ a, b ]\n").entries.front()) == "average: a, b");
  CHECK(sequence::step_in_words(step("together:\n").entries.front()) == "together");
  CHECK(sequence::step_in_words(step("adjust: { until: now }\n").entries.front()) == "adjust");
}

TEST_CASE("step words: what it says is told without steps, without what all steps may say, and without slips",
          "[sequence]") {
  yaml::KeyTable table{.name = "x", .about = "x", .keys = {}};
  for (const char* name : {"capture", "keep", "within"}) table.keys.push_back(key(name, yaml::Type::text));
  table.keys.push_back(key("do", yaml::Type::steps));
  using Said = std::vector<std::pair<std::string, std::string>>;
  CHECK(sequence::said_by(step("capture: rf\nkeep: 64 settled\nwithin: 5 s\ndo: [ { note: x } ]\nkep: 3\n"), table) ==
        Said{{"capture", "rf"}, {"keep", "64 settled"}});
}
