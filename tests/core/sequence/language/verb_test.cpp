// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/verb.hpp"

#include <catch2/catch.hpp>

#include "core/yaml/load.hpp"

using namespace eyelevel;
using sequence::NameKind;

namespace {

struct Reading {
  yaml::Document document;
  sequence::Scope scope;
  sequence::Language language;

  explicit Reading(const std::string& text) : document(yaml::load_text("t.yaml", text)) {
    scope.sequence.signals = {{"rf", "scope", "oscilloscope", 1, 1, 1}, {"dc", "meter", "multimeter", 0, 2, 1}};
    scope.sequence.roles = {{.role = "scope", .kind = "oscilloscope", .rate_hz = {}, .points = {}}};
    scope.sequence.limits = {{"level", "1.20 V ± 10 %", {1.08, 1.32}, quantity::voltage, 3, 1}};
    scope.given = {{"pressed", {NameKind::captures, {}, 5, "rf"}},
                   {"level_1", {NameKind::reading, quantity::voltage, 6}},
                   {"odd", {NameKind::unknown, {}, 7}}};
    scope.set_up_probe = {{"rf", 10}};
  }
  sequence::ReadInside inside;
  sequence::StepReader reader() { return {document.root, scope, language, inside, document.mistakes}; }
};

}  // namespace

TEST_CASE("step reader: what is known is found without a word", "[sequence]") {
  Reading at("a: rf\nb: level\nc: level_1\n");
  auto reader = at.reader();
  REQUIRE(reader.signal("a"));
  CHECK(reader.signal("a")->channel == 1);
  CHECK(reader.ready_signal("a", "oscilloscope"));
  CHECK(reader.limit("b")->name == "level");
  CHECK(reader.reading(*reader.fields.node("c"), "level_1") == quantity::voltage);
  CHECK(reader.name(*reader.fields.node("c"), "pressed", {NameKind::captures})->signal == "rf");
  CHECK(reader.role(*reader.fields.node("c"), "scope"));
  CHECK(reader.ok());
}

TEST_CASE("step reader: a name whose own step has mistakes is not reported again", "[sequence]") {
  Reading at("a: odd\n");
  auto reader = at.reader();
  CHECK(reader.name(*reader.fields.node("a"), "odd", {NameKind::captures})->kind == NameKind::unknown);
  CHECK_FALSE(reader.reading(*reader.fields.node("a"), "odd"));
  CHECK(reader.ok());
}

TEST_CASE("step reader: an absent key is the table's to report", "[sequence]") {
  Reading at("a: rf\n");
  auto reader = at.reader();
  CHECK_FALSE(reader.signal("b"));
  CHECK_FALSE(reader.limit("b"));
  CHECK(reader.ok());
}

TEST_CASE("step reader: nothing to choose from is said as what to write", "[sequence]") {
  Reading at("a: x\n");
  at.scope = {};
  auto reader = at.reader();
  CHECK_FALSE(reader.signal("a"));
  REQUIRE(at.document.mistakes.size() == 1);
  CHECK(at.document.mistakes.list()[0].suggestion == "name it under `signals`, as in `rf: scope channel 1`");
  CHECK_FALSE(reader.ok());
}
