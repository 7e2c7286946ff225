// SPDX-License-Identifier: Apache-2.0
// The OpenAPI 3.1 document, made from the table of routes and the schemas of api_schemas.json.
#include <fmt/format.h>

#include <boost/json.hpp>
#include <set>

#include "core/service/api.hpp"
#include "core/service/api_schemas.hpp"
#include "core/service/http/target.hpp"

namespace eyelevel::service {

namespace json = boost::json;

namespace {

json::object reference(std::string_view schema) { return {{"$ref", fmt::format("#/components/schemas/{}", schema)}}; }

json::object content(std::string_view schema) {
  if (schema == "Bytes")
    return {
        {"application/octet-stream", json::object{{"schema", json::object{{"type", "string"}, {"format", "binary"}}}}}};
  if (schema == "Text")
    return {{"application/openmetrics-text", json::object{{"schema", json::object{{"type", "string"}}}}}};
  return {{"application/json", json::object{{"schema", reference(schema)}}}};
}

json::array parameters(const Route& route) {
  json::array list;
  for (const auto part : http::segments(route.path)) {
    if (!part.starts_with('{')) continue;
    list.push_back(json::object{{"name", part.substr(1, part.find('}') - 1)},
                                {"in", "path"},
                                {"required", true},
                                {"schema", json::object{{"type", "string"}}}});
  }
  for (auto rest = route.query; !rest.empty();) {
    const auto comma = rest.find(',');
    list.push_back(
        json::object{{"name", rest.substr(0, comma)}, {"in", "query"}, {"schema", json::object{{"type", "string"}}}});
    rest = comma == std::string_view::npos ? std::string_view() : rest.substr(comma + 1);
  }
  return list;
}

// "GET /api/1/jobs/{job}" becomes "get_jobs_job".
std::string operation_id(const Route& route) {
  std::string id;
  for (const char c : route.method) id += static_cast<char>(c + 32);
  for (const auto part : http::segments(route.path)) {
    if (part == "api" || part == "1") continue;
    id += '_';
    for (const char c : part)
      if (c != '{' && c != '}') id += c == '.' || c == '-' ? '_' : c;
  }
  return id;
}

json::object operation(const Route& route) {
  json::object responses;
  const bool creates = route.method == "POST" && !route.gives.empty() && route.path != "/api/1/session";
  if (route.gives.empty())
    responses["204"] = json::object{{"description", "Done"}};
  else
    responses[creates ? "201" : "200"] = json::object{{"description", route.about}, {"content", content(route.gives)}};
  responses["4XX"] = json::object{
      {"description", "What is wrong with the request"},
      {"content", json::object{{"application/problem+json", json::object{{"schema", reference("Problem")}}}}}};
  json::object all{{"operationId", operation_id(route)}, {"summary", route.about}, {"responses", std::move(responses)}};
  if (route.needs)
    all["description"] = fmt::format("Needs the right to {}.", name_of(*route.needs));
  else
    all["security"] = json::array();
  if (auto list = parameters(route); !list.empty()) all["parameters"] = std::move(list);
  if (!route.takes.empty()) all["requestBody"] = json::object{{"required", true}, {"content", content(route.takes)}};
  return all;
}

// The cookie's name ends in the port (Access::session_cookie).
json::object security_schemes() {
  return {{"session",
           json::object{{"type", "apiKey"},
                        {"in", "cookie"},
                        {"name", "eyelevel-session"},
                        {"description", "Set by POST /api/1/session. At a loopback address nobody needs to sign in."}}},
          {"token", json::object{{"type", "http"}, {"scheme", "bearer"}}}};
}

}  // namespace

std::string openapi(std::string_view program) {
  json::object paths;
  for (const Route& route : routes()) {
    std::string method(route.method);
    for (char& c : method) c = static_cast<char>(c + 32);
    if (!paths.contains(route.path)) paths[route.path] = json::object();
    paths[route.path].get_object()[method] = operation(route);
  }
  return json::serialize(json::object{
      {"openapi", "3.1.0"},
      {"info", json::object{{"title", "eyelevel daemon"},
                            {"version", "1"},
                            {"description", fmt::format("Benches, jobs and records of {}", program)},
                            {"license", json::object{{"name", "Apache-2.0"}, {"identifier", "Apache-2.0"}}}}},
      {"servers", json::array{json::object{{"url", "/"}}}},
      {"paths", std::move(paths)},
      {"security", json::array{json::object{{"session", json::array()}}, json::object{{"token", json::array()}}}},
      {"components", json::object{{"schemas", json::parse(json::string_view(api_schemas.data(), api_schemas.size()))},
                                  {"securitySchemes", security_schemes()}}}});
}

}  // namespace eyelevel::service
