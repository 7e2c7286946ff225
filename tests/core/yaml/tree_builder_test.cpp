// SPDX-License-Identifier: Apache-2.0
// Events as yaml-cpp sends them, one by one. What whole files lead to is in load_test.cpp.
#include "core/yaml/tree_builder.hpp"

#include <catch2/catch.hpp>

#include <string>

using namespace eyelevel;

namespace {

YAML::Mark at(int offset) {
  YAML::Mark mark;
  mark.pos = offset;
  return mark;
}

struct Fixture {
  explicit Fixture(std::string source_text) : text(std::move(source_text)) {}
  std::string text;
  yaml::Source source{text};
  yaml::Limits limits;
  yaml::Mistakes mistakes{"f.yaml"};
  yaml::TreeBuilder builder{source, limits, mistakes};

  void key(int offset, const std::string& word) { builder.OnScalar(at(offset), "?", 0, word); }
  void begin_map(int offset) { builder.OnMapStart(at(offset), "?", 0, YAML::EmitterStyle::Block); }
};

}  // namespace

TEST_CASE("tree builder: a map's keys and values keep their order and their places", "[yaml]") {
  Fixture f("b: 1\na: [x]\n");
  f.builder.OnDocumentStart(at(0));
  f.begin_map(0);
  f.key(0, "b");
  f.key(3, "1");
  f.key(5, "a");
  f.builder.OnSequenceStart(at(8), "?", 0, YAML::EmitterStyle::Flow);
  f.key(9, "x");
  f.builder.OnSequenceEnd();
  f.builder.OnMapEnd();
  const yaml::Node root = f.builder.take();
  REQUIRE(root.entries.size() == 2);
  CHECK(root.entries[0].key == "b");
  CHECK(root.entries[1].key_mark == yaml::Mark{2, 1});
  CHECK(root.entries[1].value.items.at(0).mark == yaml::Mark{2, 5});
  CHECK(f.mistakes.list().empty());
}

TEST_CASE("tree builder: the limit of mistakes holds for what may come many times", "[yaml]") {
  Fixture f("a: 1\n");
  f.limits.mistakes = 3;
  f.builder.OnDocumentStart(at(0));
  f.begin_map(0);
  for (int i = 0; i < 10; ++i) {
    f.key(0, "a");
    f.key(3, "1");
  }
  f.builder.OnMapEnd();
  CHECK(f.mistakes.size() == 3);
}

TEST_CASE("tree builder: an alias ends the reading at once", "[yaml]") {
  Fixture f("a: *b\n");
  f.builder.OnDocumentStart(at(0));
  f.begin_map(0);
  f.key(0, "a");
  CHECK_THROWS_AS(f.builder.OnAlias(at(3), 1), yaml::Refused);
  CHECK(f.mistakes.size() == 1);
}

TEST_CASE("tree builder: a mark beyond the text is the end of the text, not a fault", "[yaml]") {
  Fixture f("a");
  f.builder.OnDocumentStart(at(0));
  CHECK_NOTHROW(f.builder.OnNull(at(99), 0));
  CHECK(f.builder.take().shape == yaml::Shape::nothing);
}
