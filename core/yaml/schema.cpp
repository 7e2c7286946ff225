// SPDX-License-Identifier: Apache-2.0
#include "core/yaml/schema.hpp"

#include <boost/json/array.hpp>
#include <boost/json/object.hpp>
#include <boost/json/serialize.hpp>
#include <boost/json/string.hpp>
#include <boost/json/value.hpp>

namespace eyelevel::yaml {
namespace {

namespace json = boost::json;

json::object table_schema(const KeyTable& table);

// Editors read YAML's own types first: 00417 and yes reach the schema as a number and a boolean.
json::array any_scalar() { return {"string", "number", "boolean"}; }

json::object key_schema(const Key& key) {
  json::object out;
  switch (key.type) {
    case Type::text: out["type"] = any_scalar(); break;
    case Type::word:
      if (key.choices.empty()) {
        out["type"] = any_scalar();
      } else {
        out["enum"] = json::array(key.choices.begin(), key.choices.end());
      }
      break;
    case Type::count:
      out["type"] = "integer";
      out["minimum"] = 0;
      break;
    case Type::quantity:
      out["type"] =
          key.dimension == quantity::ratio ? json::value(json::array{"string", "number"}) : json::value("string");
      break;
    case Type::span:
      out["type"] = "string";
      out["pattern"] = "±|\\+/?-|^at (least|most) | to ";
      break;
    case Type::tolerance:
      out["type"] = "string";
      out["pattern"] = "^(±|\\+/?-)";
      break;
    case Type::date:
      out["type"] = "string";
      out["pattern"] = "^[0-9]{4}-[0-9]{2}-[0-9]{2}$";
      break;
    case Type::yes_no: out["enum"] = json::array{"yes", "no", true, false}; break;
    case Type::texts:
      out["type"] = "array";
      out["items"] = json::object{{"type", any_scalar()}};
      break;
    case Type::group: out = table_schema(*key.inside); break;
    case Type::named:
      out["type"] = "object";
      out["additionalProperties"] = table_schema(*key.inside);
      break;
    case Type::groups:
      out["type"] = "array";
      out["items"] = table_schema(*key.inside);
      break;
    case Type::steps:
      out["type"] = "array";
      out["minItems"] = 1;
      out["items"] = json::object{{"$ref", "#/definitions/step"}};
      break;
    case Type::own: break;
  }
  if (!key.help.empty()) out["description"] = key.help;
  if (!key.example.empty() && key.type != Type::group) out["examples"] = json::array{json::string(key.example)};
  return out;
}

json::object table_schema(const KeyTable& table) {
  json::object out;
  out["type"] = "object";
  if (!table.about.empty()) out["description"] = table.about;
  json::object properties;
  json::array required;
  for (const Key& key : table.keys) {
    properties[key.name] = key_schema(key);
    if (key.required) required.emplace_back(json::string(key.name));
  }
  out["properties"] = std::move(properties);
  if (!required.empty()) out["required"] = std::move(required);
  out["additionalProperties"] = false;
  return out;
}

void write(const json::value& value, int indent, std::string& out) {
  const std::string inner(static_cast<std::size_t>(indent) + 2, ' ');
  const std::string outer(static_cast<std::size_t>(indent), ' ');
  if (value.is_object() && !value.get_object().empty()) {
    const char* separator = "{\n";
    for (const auto& [key, inside] : value.get_object()) {
      out += separator + inner + json::serialize(json::string(key)) + ": ";
      write(inside, indent + 2, out);
      separator = ",\n";
    }
    out += "\n" + outer + "}";
  } else if (value.is_array() && !value.get_array().empty() && value.get_array().front().is_object()) {
    const char* separator = "[\n";
    for (const json::value& inside : value.get_array()) {
      out += separator + inner;
      write(inside, indent + 2, out);
      separator = ",\n";
    }
    out += "\n" + outer + "]";
  } else {
    out += json::serialize(value);
  }
}

}  // namespace

std::string json_schema(const KeyTable& table, const std::string& title, const std::vector<KeyTable>& steps) {
  json::object root{{"$schema", "http://json-schema.org/draft-07/schema#"}, {"title", json::string(title)}};
  for (const auto& [key, value] : table_schema(table)) root[key] = value;
  if (!steps.empty()) {
    json::array kinds;
    for (const KeyTable& step : steps) kinds.push_back(table_schema(step));
    root["definitions"] = json::object{{"step", json::object{{"anyOf", std::move(kinds)}}}};
  }
  std::string out;
  write(root, 0, out);
  return out + "\n";
}

}  // namespace eyelevel::yaml
