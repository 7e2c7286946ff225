// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/declare.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"

using namespace eyelevel;
using Catch::Matchers::Contains;
using plugin::PartSaid;

namespace {

PartSaid measure() {
  return {.kind = "measure",
          .name = "rise time",
          .about = "how long an edge takes",
          .example = "- measure: rise time of edge\n",
          .gives = "s",
          .takes = "waveform",
          .instrument = {},
          .parameters = {{.name = "from",
                          .type = "quantity",
                          .unit = "V",
                          .required = false,
                          .help = "where it begins",
                          .example = "0.1 V",
                          .choices = {}}}};
}

std::string wrong_of(const PartSaid& said) {
  try {
    plugin::declared(said, "plugin x");
  } catch (const base::Error& error) {
    CHECK(error.record().code == base::ErrorCode::bad_answer);
    CHECK(error.record().where == "plugin x");
    return error.what();
  }
  return "nothing";
}

template <class Change>
std::string wrong_after(Change change) {
  PartSaid said = measure();
  change(said);
  return wrong_of(said);
}

}  // namespace

TEST_CASE("declaration: units become dimensions and types key types", "[plugin]") {
  const auto part = plugin::declared(measure(), "plugin x");
  CHECK(part.kind == registers::PartKind::measure);
  CHECK(part.gives == quantity::time);
  CHECK(part.takes == registers::ResultKind::waveform);
  CHECK(part.declaration.from == "plugin x");
  const yaml::Key* key = part.declaration.parameters.find("from");
  REQUIRE(key);
  CHECK(key->type == yaml::Type::quantity);
  CHECK(key->dimension == quantity::voltage);
}

TEST_CASE("declaration: a verb has its own key, a text unless it says otherwise", "[plugin]") {
  PartSaid said = measure();
  said.kind = "verb", said.takes = "", said.parameters = {};
  auto part = plugin::declared(said, "plugin x");
  REQUIRE(part.declaration.parameters.keys.size() == 1);
  CHECK(part.declaration.parameters.keys[0].type == yaml::Type::text);
  CHECK(part.declaration.parameters.keys[0].required);
  said.parameters = {{.name = "rise time",
                      .type = "reading",
                      .unit = {},
                      .required = false,
                      .help = "of what",
                      .example = "a",
                      .choices = {}}};
  part = plugin::declared(said, "plugin x");
  CHECK(part.results.at("rise time") == registers::ResultKind::reading);
  CHECK(part.declaration.parameters.keys[0].required);
}

TEST_CASE("declaration: what cannot be shown, registered or counted in is refused by name", "[plugin]") {
  CHECK_THAT(wrong_after([](PartSaid& s) { s.name = "Rise"; }), Contains("has the name 'Rise'"));
  CHECK_THAT(wrong_after([](PartSaid& s) { s.name = "rise of time"; }), Contains("has the name"));
  CHECK_THAT(wrong_after([](PartSaid& s) { s.name = ""; }), Contains("has the name ''"));
  CHECK_THAT(wrong_after([](PartSaid& s) { s.name = std::string(41, 'a'); }), Contains("at most 40"));
  CHECK_THAT(wrong_after([](PartSaid& s) { s.about = "red\x1b[31m"; }), Contains("has no about of one legible line"));
  CHECK_THAT(wrong_after([](PartSaid& s) { s.about = "\xff"; }), Contains("has no about"));
  CHECK_THAT(wrong_after([](PartSaid& s) { s.example = ""; }), Contains("has no example"));
  CHECK_THAT(wrong_after([](PartSaid& s) { s.kind = "miracle"; }), Contains("is of kind 'miracle'"));
  CHECK_THAT(wrong_after([](PartSaid& s) { s.gives = "ms"; }), Contains("has the unit 'ms' for gives"));
  CHECK_THAT(wrong_after([](PartSaid& s) { s.gives = "furlong"; }), Contains("has the unknown unit 'furlong'"));
  CHECK_THAT(wrong_after([](PartSaid& s) { s.gives = ""; }), Contains("gives no reading"));
  CHECK_THAT(wrong_after([](PartSaid& s) { s.takes = "reading"; }), Contains("takes 'reading'"));
  CHECK_THAT(wrong_after([](PartSaid& s) { s.instrument = "multimeter"; }), Contains("is no driver"));
  CHECK_THAT(wrong_after([](PartSaid& s) { s.kind = "driver", s.takes = ""; }), Contains("drives ''"));
  CHECK_THAT(wrong_after([](PartSaid& s) { s.kind = "verb"; }), Contains("takes something, but is no measure"));
}

TEST_CASE("declaration: wrong parameters are refused by name", "[plugin]") {
  CHECK_THAT(wrong_after([](PartSaid& s) { s.parameters.push_back(s.parameters[0]); }), Contains("'from' twice"));
  CHECK_THAT(wrong_after([](PartSaid& s) { s.parameters[0].type = "blob"; }), Contains("of type 'blob'"));
  CHECK_THAT(wrong_after([](PartSaid& s) { s.parameters[0].type = "text"; }), Contains("has a unit for 'from'"));
  CHECK_THAT(wrong_after([](PartSaid& s) { s.parameters[0].help = ""; }), Contains("help for 'from'"));
  CHECK_THAT(wrong_after([](PartSaid& s) { s.parameters[0].choices = {"a"}; }), Contains("has choices for 'from'"));
  CHECK_THAT(wrong_after([](PartSaid& s) { s.parameters[0].type = "reading", s.parameters[0].unit = ""; }),
             Contains("results only for verbs"));
  CHECK_THAT(wrong_after([](PartSaid& s) {
               const auto one = s.parameters[0];
               for (std::size_t i = 0; i < 40; ++i) s.parameters.push_back(one);
             }),
             Contains("has 41 parameters"));
}

TEST_CASE("one line: what is left is legible and cut between characters", "[plugin]") {
  CHECK(plugin::one_line("a\nb\x1b[0m", 100) == "a b [0m");
  CHECK(plugin::one_line("1.2 µV", 5) == "1.2 ");
  CHECK(plugin::one_line("ok\xff no", 100) == "ok");
}
