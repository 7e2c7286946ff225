// SPDX-License-Identifier: Apache-2.0
// Every message that a table can lead to, in full.
#include "core/yaml/key_table.hpp"

#include <catch2/catch.hpp>

#include <string>

#include "core/yaml/fields.hpp"
#include "core/yaml/load.hpp"
#include "tests/support/mistakes.hpp"

using namespace eyelevel;
using yaml::Key;
using yaml::Type;

namespace {

yaml::KeyTable channel_table() {
  return {"a channel",
          "one input",
          {{.name = "probe",
            .required = true,
            .type = Type::quantity,
            .dimension = quantity::ratio,
            .help = "factor",
            .example = "x10"}}};
}

yaml::KeyTable table() {
  const auto channel = std::make_shared<const yaml::KeyTable>(channel_table());
  return {
      "a thing",
      "for this test",
      {{.name = "name", .required = true, .type = Type::text, .help = "", .example = "lanternfield-1"},
       {.name = "coupling", .type = Type::word, .help = "", .example = "dc", .choices = {"dc", "ac"}},
       {.name = "role", .type = Type::word, .help = "", .example = "scope"},
       {.name = "keep", .type = Type::count, .help = "", .example = "64"},
       {.name = "within", .type = Type::quantity, .dimension = quantity::time, .help = "", .example = "45 s"},
       {.name = "level", .type = Type::span, .dimension = quantity::voltage, .help = "", .example = "1.20 V ± 10 %"},
       {.name = "gain", .type = Type::tolerance, .dimension = quantity::ratio, .help = "", .example = "± 1.5 %"},
       {.name = "due", .type = Type::date, .help = "", .example = "2030-06-30"},
       {.name = "open", .type = Type::yes_no, .help = "", .example = "yes"},
       {.name = "cautions", .type = Type::texts, .help = "", .example = "[keep clear]"},
       {.name = "main", .type = Type::group, .help = "", .example = "{probe: x10}", .inside = channel},
       {.name = "channels", .type = Type::named, .help = "", .example = "{1: {probe: x10}}", .inside = channel},
       {.name = "inputs", .type = Type::groups, .help = "", .example = "[{probe: x10}]", .inside = channel},
       {.name = "steps", .type = Type::own, .help = "", .example = "[...]"}}};
}

std::string said(std::string_view text) {
  auto document = yaml::load_text("f.yaml", text);
  REQUIRE(document.mistakes.fine());
  const bool fine = yaml::check(document.root, table(), document.mistakes);
  CHECK(fine == document.mistakes.fine());
  return test::printed(document.mistakes);
}

}  // namespace

TEST_CASE("key table: what fits is accepted and read with its type", "[yaml]") {
  const std::string text =
      "name: 00417\ncoupling: ac\nrole: scope_1\nkeep: 64\nwithin: 10 min\nlevel: 1.20 V ± 10 %\ngain: ± 1.5 %\n"
      "due: 2030-06-30\nopen: no\ncautions:\n  - a\n  - b\nmain: {probe: x10}\nchannels:\n  1: {probe: x1}\n  2: "
      "{probe: x10}\n"
      "inputs:\n  - {probe: 10}\nsteps:\n  - anything: {}\n";
  CHECK(said(text).empty());
  const auto document = yaml::load_text("f.yaml", text);
  const yaml::Fields fields(document.root);
  CHECK(fields.text("name") == "00417");
  CHECK(fields.count("keep") == 64);
  CHECK(fields.quantity("within", quantity::time) == 600.0);
  CHECK(fields.span("level", quantity::voltage)->nominal == 1.2);
  CHECK(fields.tolerance("gain", quantity::ratio)->is_relative);
  CHECK(fields.yes_no("open") == false);
  CHECK(fields.texts("cautions") == std::vector<std::string>{"a", "b"});
  CHECK(yaml::Fields(*document.root.find("main")).quantity("probe", quantity::ratio) == 10.0);
  CHECK(fields.has("steps"));
}

TEST_CASE("key table: an absent or wrong value reads as empty, without a second message", "[yaml]") {
  const auto document = yaml::load_text("f.yaml", "keep: many\nwithin: [1]\n");
  const yaml::Fields fields(document.root);
  CHECK_FALSE(fields.count("keep"));
  CHECK_FALSE(fields.quantity("within", quantity::time));
  CHECK_FALSE(fields.span("level", quantity::voltage));
  CHECK_FALSE(fields.tolerance("gain", quantity::ratio));
  CHECK_FALSE(fields.yes_no("open"));
  CHECK_FALSE(fields.text("name"));
  CHECK(fields.texts("cautions").empty());
}

TEST_CASE("key table: an unknown key is told with the nearest right word, or with all", "[yaml]") {
  CHECK(said("name: a\nwithn: 5 s\n") == "f.yaml:2:1: unknown key 'withn' in a thing; write 'within'");
  CHECK(said("name: a\nmain: {probe: x1, colour: red}\n") ==
        "f.yaml:2:19: unknown key 'colour' in a channel; known here: 'probe'");
}

TEST_CASE("key table: a missing key shows how it would be written", "[yaml]") {
  CHECK(said("keep: 64\n") == "f.yaml:1:1: 'name' is missing in a thing; write name: lanternfield-1");
  CHECK(said("name: a\nchannels: {1: {}}\n") == "f.yaml:2:15: 'probe' is missing in a channel; write probe: x10");
}

TEST_CASE("key table: all mistakes are reported, not the first", "[yaml]") {
  CHECK(said("nam: a\nwithin: 1:30\nkeep: 007\nopen: on\n") ==
        "f.yaml:1:1: unknown key 'nam' in a thing; write 'name'\n"
        "f.yaml:2:9: 'within': '1:30' could be minutes and seconds or hours and minutes; write one number with its "
        "unit, such "
        "as 90 s or 90 min\n"
        "f.yaml:3:7: 'keep': the number '007' has zeros in front; write 7; where a serial number is meant, it does not "
        "belong "
        "here\n"
        "f.yaml:4:7: 'open': expected yes or no, found 'on'; write open: yes\n"
        "f.yaml:1:1: 'name' is missing in a thing; write name: lanternfield-1");
}

TEST_CASE("key table: a wrong value is told where it stands inside the text", "[yaml]") {
  CHECK(said("name: a\nlevel: 1.20 V ± 10 ms\n") ==
        "f.yaml:2:17: 'level': expected a voltage, found a time (10 ms); write a voltage such as 1.20 V");
  CHECK(said("name: a\nwithin: 1.20 V\n") ==
        "f.yaml:2:9: 'within': expected a time, found a voltage (1.20 V); write a time such as 45 s");
  CHECK(said("name: a\nwithin: 45\n") ==
        "f.yaml:2:9: 'within': 45 has no unit, expected a time; write 45 s, 45 ms or 45 min");
  CHECK(said("name: a\ngain: 1.5 %\n") ==
        "f.yaml:2:7: 'gain': expected a tolerance, found '1.5 %'; write it like ± 10 % or ± 5 mV");
}

TEST_CASE("key table: words, dates, yes and no", "[yaml]") {
  CHECK(said("name: a\ncoupling: dv\n") ==
        "f.yaml:2:11: 'coupling': unknown word 'dv', expected 'dc' or 'ac'; write coupling: dc");
  CHECK(said("name: a\ncoupling: ground\n") ==
        "f.yaml:2:11: 'coupling': unknown word 'ground', expected 'dc' or 'ac'; write coupling: dc");
  CHECK(said("name: a\nrole: the scope\n") ==
        "f.yaml:2:7: 'role': 'the scope' is not one word; use letters, digits, - and _, as in role: scope");
  CHECK(said("name: a\ndue: 30.06.2030\n") ==
        "f.yaml:2:6: 'due': expected a date, found '30.06.2030'; write year, month and day, such as 2030-06-30");
  CHECK(said("name: a\nopen: NO\n") == "f.yaml:2:7: 'open': expected yes or no, found 'NO'; write open: no");
  CHECK(said("name: a\nopen: perhaps\n") == "f.yaml:2:7: 'open': expected yes or no, found 'perhaps'; write open: yes");
}

TEST_CASE("key table: shapes that do not fit", "[yaml]") {
  CHECK(said("name:\nkeep: 1\n") == "f.yaml:1:1: 'name' has no value, expected a text; write name: lanternfield-1");
  CHECK(said("name: [a]\n") == "f.yaml:1:7: 'name': expected a text, found a list; write name: lanternfield-1");
  CHECK(said("name: a\ncautions: one\n") ==
        "f.yaml:2:11: 'cautions': expected a list of texts, found 'one'; write cautions: [keep clear]");
  CHECK(said("name: a\ncautions:\n  - now: then\n") ==
        "f.yaml:3:5: 'cautions': expected a text, found a group of keys; put a text that holds ': ' in quotes");
  CHECK(said("name: a\ncautions:\n  - [x]\n") ==
        "f.yaml:3:5: 'cautions': expected a text, found a list; write cautions: [keep clear]");
  CHECK(said("name: a\nmain: x10\n") ==
        "f.yaml:2:7: 'main': expected a group of keys, found 'x10'; write main: {probe: x10}");
  CHECK(said("name: a\nchannels: {1: x10}\n") ==
        "f.yaml:2:15: expected a channel as a group of keys, found 'x10'; write probe: x10");
  CHECK(said("name: a\ninputs:\n  - x10\n") ==
        "f.yaml:3:5: expected a channel as a group of keys, found 'x10'; write probe: x10");
  CHECK(said("- a\n") == "f.yaml:1:1: expected a thing as a group of keys, found a list; write name: lanternfield-1");
}
