// SPDX-License-Identifier: Apache-2.0
// JSON Schema draft-07: keywords as in its validation document; the whole text is compared for one table of each type.
#include "core/yaml/schema.hpp"

#include <catch2/catch.hpp>

#include <string>

using namespace eyelevel;
using yaml::Type;

TEST_CASE("schema: one table of keys, written out whole", "[yaml]") {
  const auto inside = std::make_shared<const yaml::KeyTable>(yaml::KeyTable{
      "a channel",
      "",
      {{.name = "probe", .required = true, .type = Type::quantity, .help = "factor", .example = "x10"}}});
  const yaml::KeyTable table{
      "a thing",
      "for this test",
      {{.name = "about", .required = true, .type = Type::text, .help = "what it is", .example = "RF \"level\""},
       {.name = "coupling", .type = Type::word, .help = "", .example = "dc", .choices = {"dc", "ac"}},
       {.name = "keep", .type = Type::count, .help = "", .example = "64"},
       {.name = "within", .type = Type::quantity, .dimension = quantity::time, .help = "", .example = "45 s"},
       {.name = "due", .type = Type::date, .help = "", .example = "2030-06-30"},
       {.name = "open", .type = Type::yes_no, .help = "", .example = "yes"},
       {.name = "cautions", .type = Type::texts, .help = "", .example = ""},
       {.name = "channels", .type = Type::named, .help = "", .example = "", .inside = inside},
       {.name = "steps", .type = Type::own, .help = "", .example = ""}}};
  const std::string expected = R"({
  "$schema": "http://json-schema.org/draft-07/schema#",
  "title": "thing",
  "type": "object",
  "description": "for this test",
  "properties": {
    "about": {
      "type": ["string","number","boolean"],
      "description": "what it is",
      "examples": ["RF \"level\""]
    },
    "coupling": {
      "enum": ["dc","ac"],
      "examples": ["dc"]
    },
    "keep": {
      "type": "integer",
      "minimum": 0,
      "examples": ["64"]
    },
    "within": {
      "type": "string",
      "examples": ["45 s"]
    },
    "due": {
      "type": "string",
      "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$",
      "examples": ["2030-06-30"]
    },
    "open": {
      "enum": ["yes","no",true,false],
      "examples": ["yes"]
    },
    "cautions": {
      "type": "array",
      "items": {
        "type": ["string","number","boolean"]
      }
    },
    "channels": {
      "type": "object",
      "additionalProperties": {
        "type": "object",
        "properties": {
          "probe": {
            "type": ["string","number"],
            "description": "factor",
            "examples": ["x10"]
          }
        },
        "required": ["probe"],
        "additionalProperties": false
      }
    },
    "steps": {}
  },
  "required": ["about"],
  "additionalProperties": false
}
)";
  CHECK(yaml::json_schema(table, "thing") == expected);
}
