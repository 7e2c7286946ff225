// SPDX-License-Identifier: Apache-2.0
#include "core/service/http/problem.hpp"

#include <boost/json.hpp>
#include <catch2/catch.hpp>

using namespace eyelevel;
namespace json = boost::json;

TEST_CASE("problem: has the members of RFC 9457, 3.1, and what to do", "[service]") {
  const auto response = service::http::answer_to(service::http::Problem(409, "it runs", "stop it first"));
  CHECK(response.status == 409);
  CHECK(response.type == "application/problem+json");
  const auto body = json::parse(response.body);
  CHECK(body.at("type") == "about:blank");
  CHECK(body.at("title") == "Conflict");
  CHECK(body.at("status") == 409);
  CHECK(body.at("detail") == "it runs");
  CHECK(body.at("advice") == "stop it first");
}

TEST_CASE("problem: our errors have a status by whose fault they are", "[service]") {
  using base::ErrorCode;
  const std::pair<ErrorCode, int> expected[] = {{ErrorCode::not_found, 404},
                                                {ErrorCode::bad_input, 422},
                                                {ErrorCode::not_recording, 503},
                                                {ErrorCode::defect, 500}};
  for (const auto& [code, status] : expected) CHECK(service::http::answer_to(base::Error(code, "x")).status == status);
}

TEST_CASE("problem: bytes that are no text are made harmless", "[service]") {
  const auto response =
      service::http::answer_to(base::Error(base::ErrorCode::bad_input, "an instrument said \xff\xfe"));
  CHECK_NOTHROW(json::parse(response.body));
}

TEST_CASE("problem: who is to wait is told for how long", "[service]") {
  const auto response = service::http::answer_to(service::http::Problem(429, "too many").after_seconds(8));
  CHECK(response.headers == std::vector<std::pair<std::string, std::string>>{{"Retry-After", "8"}});
  CHECK(service::http::answer_to(service::http::Problem(404, "none")).headers.empty());
}
