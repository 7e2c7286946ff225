// SPDX-License-Identifier: Apache-2.0
#include "core/service/http/problem.hpp"

#include <array>
#include <boost/json.hpp>
#include <utility>

#include "core/record/journal/json_text.hpp"

namespace eyelevel::service::http {
namespace {

namespace json = boost::json;

// RFC 9110, 15.
std::string_view title_of(int status) {
  constexpr std::array<std::pair<int, std::string_view>, 14> titles = {{{400, "Bad Request"},
                                                                        {401, "Unauthorized"},
                                                                        {403, "Forbidden"},
                                                                        {404, "Not Found"},
                                                                        {405, "Method Not Allowed"},
                                                                        {409, "Conflict"},
                                                                        {411, "Length Required"},
                                                                        {413, "Content Too Large"},
                                                                        {415, "Unsupported Media Type"},
                                                                        {422, "Unprocessable Content"},
                                                                        {429, "Too Many Requests"},
                                                                        {431, "Request Header Fields Too Large"},
                                                                        {500, "Internal Server Error"},
                                                                        {503, "Service Unavailable"}}};
  for (const auto& [known, title] : titles)
    if (known == status) return title;
  return "Error";
}

Response answer(int status, std::string_view detail, std::string_view where, std::string_view advice) {
  json::object body{
      {"type", "about:blank"}, {"title", title_of(status)}, {"status", status}, {"detail", record::clean_utf8(detail)}};
  if (!where.empty()) body["where"] = record::clean_utf8(where);
  if (!advice.empty()) body["advice"] = record::clean_utf8(advice);
  return {status, "application/problem+json", json::serialize(body), {}};
}

}  // namespace

Response answer_to(const Problem& problem) {
  auto response = answer(problem.status(), problem.what(), {}, problem.advice());
  if (problem.after_seconds() > 0)
    response.headers.emplace_back("Retry-After", std::to_string(problem.after_seconds()));
  return response;
}

Response answer_to(const base::Error& error) {
  const auto& record = error.record();
  int status = 500;
  if (record.code == base::ErrorCode::not_found) status = 404;
  if (record.code == base::ErrorCode::bad_input) status = 422;
  if (record.code == base::ErrorCode::not_recording || record.code == base::ErrorCode::no_connection) status = 503;
  return answer(status, record.message, record.where, record.advice);
}

}  // namespace eyelevel::service::http
