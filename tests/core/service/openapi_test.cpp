// SPDX-License-Identifier: Apache-2.0
#include <boost/json.hpp>
#include <catch2/catch.hpp>
#include <set>

#include "core/service/api.hpp"

using namespace eyelevel;
namespace json = boost::json;

namespace {

void collect(const json::value& value, std::set<std::string>& references) {
  if (const auto* object = value.if_object())
    for (const auto& member : *object) {
      if (member.key() == "$ref") references.insert(std::string(member.value().as_string()));
      collect(member.value(), references);
    }
  if (const auto* array = value.if_array())
    for (const auto& item : *array) collect(item, references);
}

}  // namespace

TEST_CASE("openapi: every route is in it, with its path's parts as parameters", "[service]") {
  const auto document = json::parse(service::openapi("eyelevel 0"));
  for (const auto& route : service::routes()) {
    CAPTURE(std::string(route.path));
    std::string method(route.method);
    for (char& c : method) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    const auto& operation = document.at("paths").at(json::string_view(route.path.data(), route.path.size())).at(method);
    std::size_t in_path = 0;
    if (const auto* parameters = operation.as_object().if_contains("parameters"))
      for (const auto& one : parameters->as_array()) in_path += one.at("in") == "path";
    CHECK(in_path == static_cast<std::size_t>(std::count(route.path.begin(), route.path.end(), '{')));
  }
}

TEST_CASE("openapi: every schema that is spoken of is there, and every one that is there is spoken of", "[service]") {
  const auto document = json::parse(service::openapi("eyelevel 0"));
  std::set<std::string> references;
  collect(document, references);
  std::set<std::string> schemas;
  for (const auto& member : document.at("components").at("schemas").as_object())
    schemas.insert("#/components/schemas/" + std::string(member.key()));
  CHECK(references == schemas);
}

TEST_CASE("openapi: no two operations have one name", "[service]") {
  const auto document = json::parse(service::openapi("eyelevel 0"));
  std::set<std::string> names;
  for (const auto& path : document.at("paths").as_object())
    for (const auto& method : path.value().as_object())
      CHECK(names.insert(std::string(method.value().at("operationId").as_string())).second);
}
