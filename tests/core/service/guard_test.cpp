// SPDX-License-Identifier: Apache-2.0
#include "core/service/guard.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;
using service::http::Request;

namespace {

int status_of(const Request& request, bool is_loopback = true) {
  const auto problem = service::refused(request, is_loopback);
  return problem ? problem->status() : 200;
}

Request from(const std::string& method, const std::string& host, const std::string& origin = "") {
  Request request;
  request.method = method;
  request.path = "/api/1/jobs";
  if (!host.empty()) request.headers["host"] = host;
  if (!origin.empty()) request.headers["origin"] = origin;
  return request;
}

}  // namespace

TEST_CASE("guard: at a loopback address only names of this machine are answered", "[service]") {
  for (const char* host : {"127.0.0.1:8470", "127.8.0.1", "localhost:8470", "[::1]:8470"})
    CHECK(status_of(from("GET", host)) == 200);
  for (const char* host :
       {"elsewhere.example", "127.0.0.1.elsewhere.example", "localhost.example:8470", "[::2]:8470"}) {
    CAPTURE(host);
    CHECK(status_of(from("GET", host)) == 403);
  }
  CHECK(status_of(from("GET", "")) == 400);
  CHECK(status_of(from("GET", "bench.lan"), false) == 200);
}

TEST_CASE("guard: what changes something does not come from another site's page", "[service]") {
  CHECK(status_of(from("POST", "localhost:8470", "http://localhost:8470")) == 200);
  for (const char* origin :
       {"http://elsewhere.example", "null", "http://localhost:9999", "http://localhost:8470.example"}) {
    CAPTURE(origin);
    CHECK(status_of(from("POST", "localhost:8470", origin)) == 403);
  }
  CHECK(status_of(from("GET", "localhost:8470", "http://elsewhere.example")) == 200);
  auto upgrade = from("GET", "localhost:8470", "http://elsewhere.example");
  upgrade.headers["upgrade"] = "websocket";
  CHECK(status_of(upgrade) == 403);
}

TEST_CASE("guard: a body is JSON, which no form of another site can send", "[service]") {
  auto request = from("POST", "localhost:8470");
  request.body = "{}";
  CHECK(status_of(request) == 415);
  request.headers["content-type"] = "text/plain";
  CHECK(status_of(request) == 415);
  request.headers["content-type"] = "application/json; charset=utf-8";
  CHECK(status_of(request) == 200);
}
