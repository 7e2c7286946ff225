// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/placeholders.hpp"

#include <catch2/catch.hpp>

#include "core/yaml/load.hpp"

using namespace eyelevel;

TEST_CASE("placeholders: names in angle brackets are found, anything else is text", "[sequence]") {
  CHECK(sequence::placeholders_in("a <b> <c_d-1><e>") == std::vector<std::string>{"b", "c_d-1", "e"});
  CHECK(sequence::placeholders_in("a < b > <> <c d> <e").empty());
}

TEST_CASE("placeholders: known names are replaced in values and lists, once, and others stay", "[sequence]") {
  const auto document = yaml::load_text("x.yaml", "a: <x> and <y>\nb: [ <x>, { c: <x><x> } ]\n");
  const auto filled = sequence::filled_in(document.root, {{"x", "<y>"}});
  CHECK(filled.find("a")->text == "<y> and <y>");
  CHECK(filled.find("b")->items[0].text == "<y>");
  CHECK(filled.find("b")->items[1].find("c")->text == "<y><y>");
}

TEST_CASE("placeholders: of a step, those that nothing fills in are told where anything is filled in", "[sequence]") {
  const auto document = yaml::load_text("x.yaml", "note: <dics>\nscreen: { low: <disc>, high: <x> }\n");
  yaml::Mistakes mistakes("x.yaml");
  sequence::report_not_filled_in(document.root, {}, mistakes);
  CHECK(mistakes.fine());
  sequence::report_not_filled_in(document.root, {"disc"}, mistakes);
  REQUIRE(mistakes.size() == 3);
  CHECK(yaml::print(mistakes.list().front()) == "x.yaml:1:7: nothing is filled in for '<dics>'; did you mean 'disc'?");
}
