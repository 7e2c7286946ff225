// SPDX-License-Identifier: Apache-2.0
// The OpenAPI 3.1 document, made from the table of routes and the schemas below.
#include <fmt/format.h>

#include <boost/json.hpp>
#include <set>

#include "core/service/api.hpp"
#include "core/service/http/target.hpp"

namespace eyelevel::service {

namespace json = boost::json;

namespace {

// Keys as README.md of this folder explains them.
constexpr std::string_view schemas_text = R"json({
"Problem": {"type": "object", "description": "RFC 9457", "required": ["type", "title", "status", "detail"], "properties": {
  "type": {"type": "string"}, "title": {"type": "string"}, "status": {"type": "integer"}, "detail": {"type": "string"},
  "where": {"type": "string"}, "advice": {"type": "string"}}},
"About": {"type": "object", "required": ["program", "benches"], "properties": {
  "program": {"type": "string"}, "benches": {"type": "array", "items": {"type": "string"}}, "openapi": {"type": "string"}}},
"Description": {"type": "object"},
"Instrument": {"type": "object", "required": ["role", "kind", "resource", "calibration_due"], "properties": {
  "role": {"type": "string"}, "kind": {"type": "string"}, "resource": {"type": "string"}, "calibration_due": {"type": "string"}}},
"Sentence": {"type": "object", "required": ["depth", "number", "text", "part", "file", "line"], "properties": {
  "depth": {"type": "integer"}, "number": {"type": "string"}, "text": {"type": "string"},
  "part": {"enum": ["opening", "steps", "closing"]}, "file": {"type": "string"}, "line": {"type": "integer"}}},
"Question": {"type": "object", "required": ["number", "text", "wants", "choices", "allowed", "start", "again", "asked_utc"], "properties": {
  "number": {"type": "integer"}, "text": {"type": "string"}, "wants": {"type": "string"},
  "choices": {"type": "array", "items": {"type": "string"}}, "allowed": {"type": "string"},
  "start": {"type": "boolean", "description": "it asks whether a job may begin; a person at the bench answers"},
  "again": {"type": "string", "description": "why the answer before was none"}, "asked_utc": {"type": "string", "format": "date-time"}}},
"Bench": {"type": "object", "required": ["name", "about", "state", "instruments", "job", "run", "sequence", "here", "question", "last", "trouble"], "properties": {
  "name": {"type": "string"}, "about": {"type": "string"},
  "state": {"enum": ["idle", "waits for start", "running", "paused", "stopping", "stopped working"]},
  "instruments": {"type": "array", "items": {"$ref": "#/components/schemas/Instrument"}},
  "job": {"oneOf": [{"type": "null"}, {"$ref": "#/components/schemas/Job"}]},
  "run": {"type": ["string", "null"]},
  "sequence": {"oneOf": [{"type": "null"}, {"type": "object", "required": ["name", "about", "cautions", "sentences"], "properties": {
    "name": {"type": "string"}, "about": {"type": "string"}, "cautions": {"type": "array", "items": {"type": "string"}},
    "sentences": {"type": "array", "items": {"$ref": "#/components/schemas/Sentence"}}}}]},
  "here": {"oneOf": [{"type": "null"}, {"type": "object", "properties": {
    "part": {"type": "string"}, "number": {"type": "integer"}, "file": {"type": "string"}, "line": {"type": "integer"}}}]},
  "question": {"oneOf": [{"type": "null"}, {"$ref": "#/components/schemas/Question"}]},
  "last": {"type": ["object", "null"]},
  "trouble": {"type": ["object", "null"]}}},
"Benches": {"type": "object", "required": ["benches"], "properties": {"benches": {"type": "array", "items": {"$ref": "#/components/schemas/Bench"}}}},
"Answer": {"type": "object", "required": ["question", "answer"], "additionalProperties": false, "properties": {
  "question": {"type": "integer"}, "answer": {"type": "string"}, "by": {"type": "string"}}},
"NewJob": {"type": "object", "required": ["bench", "sequence"], "additionalProperties": false, "properties": {
  "bench": {"type": "string"}, "sequence": {"type": "string"}, "serial": {"type": "string"}, "model": {"type": "string"},
  "set": {"type": "object", "additionalProperties": {"type": "string"}}, "priority": {"type": "integer"}, "by": {"type": "string"}}},
"MovedJob": {"type": "object", "required": ["priority"], "additionalProperties": false, "properties": {"priority": {"type": "integer"}}},
"Job": {"type": "object", "required": ["id", "bench", "sequence", "serial", "model", "set", "priority", "asked_by", "asked_utc", "state", "run", "goes_on_from", "why"], "properties": {
  "id": {"type": "integer"}, "bench": {"type": "string"}, "sequence": {"type": "string"}, "serial": {"type": "string"}, "model": {"type": "string"},
  "set": {"type": "object", "additionalProperties": {"type": "string"}}, "priority": {"type": "integer"}, "asked_by": {"type": "string"},
  "asked_utc": {"type": "string", "format": "date-time"},
  "state": {"enum": ["waiting", "under way", "interrupted", "done", "withdrawn", "refused"]},
  "run": {"type": "string"}, "goes_on_from": {"type": "string"}, "why": {"type": "string"}}},
"Jobs": {"type": "object", "required": ["jobs"], "properties": {"jobs": {"type": "array", "items": {"$ref": "#/components/schemas/Job"}}}},
"Sequences": {"type": "object", "required": ["sequences"], "properties": {"sequences": {"type": "array", "items": {"type": "object",
  "required": ["file", "name", "about"], "properties": {"file": {"type": "string"}, "name": {"type": "string"}, "about": {"type": "string"}}}}}},
"Explanation": {"type": "object", "required": ["sequence", "about", "duration", "laser_lit", "opening", "steps", "closing", "asked", "asked_at_start"]},
"Models": {"type": "object", "required": ["models"], "properties": {"models": {"type": "array", "items": {"type": "object",
  "required": ["file", "model", "about"], "properties": {"file": {"type": "string"}, "model": {"type": "string"}, "about": {"type": "string"}}}}}},
"RunSummary": {"type": "object", "required": ["run", "begun_utc", "sequence", "serial", "ended", "judgement"]},
"Runs": {"type": "object", "required": ["runs"], "properties": {"runs": {"type": "array", "items": {"$ref": "#/components/schemas/RunSummary"}}}},
"Run": {"type": "object", "required": ["run", "serial", "model", "ended", "judgement", "readings", "error", "sentence", "captures"]},
"Event": {"type": "object", "required": ["version", "run", "number", "time_s", "utc", "event", "body"], "properties": {
  "version": {"type": "integer"}, "run": {"type": "string"}, "number": {"type": "integer"}, "time_s": {"type": "number"},
  "utc": {"type": "string", "format": "date-time"}, "event": {"type": "string"}, "body": {"type": "object"}}},
"Events": {"type": "object", "required": ["events"], "properties": {"events": {"type": "array", "items": {"$ref": "#/components/schemas/Event"}}}}
})json";

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
  const bool creates = route.method == "POST" && route.gives == "Job";
  if (route.gives.empty())
    responses["204"] = json::object{{"description", "Done"}};
  else
    responses[creates ? "201" : "200"] = json::object{{"description", route.about}, {"content", content(route.gives)}};
  responses["4XX"] = json::object{
      {"description", "What is wrong with the request"},
      {"content", json::object{{"application/problem+json", json::object{{"schema", reference("Problem")}}}}}};
  json::object all{{"operationId", operation_id(route)}, {"summary", route.about}, {"responses", std::move(responses)}};
  if (auto list = parameters(route); !list.empty()) all["parameters"] = std::move(list);
  if (!route.takes.empty()) all["requestBody"] = json::object{{"required", true}, {"content", content(route.takes)}};
  return all;
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
      {"components", json::object{{"schemas", json::parse(json::string_view(schemas_text))}}}});
}

}  // namespace eyelevel::service
