// SPDX-License-Identifier: Apache-2.0
#include "core/service/access/cookies.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::service;

TEST_CASE("cookies: the one of that very name is found wherever it stands", "[service]") {
  http::Request request;
  request.headers["cookie"] = "a=1; my-session=2; session=three=3;session2=4";
  CHECK(cookie_of(request, "session") == "three=3");
  CHECK(cookie_of(request, "a") == "1");
  CHECK(cookie_of(request, "session2") == "4");
  CHECK(cookie_of(request, "b").empty());
  request.headers["cookie"] = "session";
  CHECK(cookie_of(request, "session").empty());
  request.headers.clear();
  CHECK(cookie_of(request, "session").empty());
}
