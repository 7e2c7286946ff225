// SPDX-License-Identifier: Apache-2.0
#include "core/service/http/target.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::service::http;

TEST_CASE("target: path and query come decoded", "[service]") {
  // RFC 3986, 2.1; of a query '+' is a space (HTML, application/x-www-form-urlencoded).
  const auto target = read_target("/api/1/benches/test%20bench?serial=LF2-00417&about=a+b%26c&empty");
  REQUIRE(target);
  CHECK(target->path == "/api/1/benches/test bench");
  CHECK(target->query.at("serial") == "LF2-00417");
  CHECK(target->query.at("about") == "a b&c");
  CHECK(target->query.at("empty").empty());
}

TEST_CASE("target: what leads elsewhere or is badly encoded is none", "[service]") {
  for (const char* text : {"", "api", "http://elsewhere.example/", "*", "/..", "/a/../b", "/a/%2e%2e/b", "/a%2Fb",
                           "/a%2fb", "/a//b", "/%zz", "/%", "/a%00b", "/a\\b", "/a%0d%0ab", "/.", "/a?x=%00", "/a b"}) {
    CAPTURE(text);
    CHECK_FALSE(read_target(text));
  }
  CHECK(read_target("/"));
  CHECK(read_target("/api/1/"));
}

TEST_CASE("target: segments are what stands between the slashes", "[service]") {
  CHECK(segments("/api/1/jobs") == std::vector<std::string_view>{"api", "1", "jobs"});
  CHECK(segments("/") == std::vector<std::string_view>{""});
  CHECK(segments("/a/") == std::vector<std::string_view>{"a", ""});
}
