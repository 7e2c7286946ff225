// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>
#include <set>

#include "core/service/api.hpp"

using namespace eyelevel;

TEST_CASE("routes: whatever changes something needs more than the right to look, but one's own sessions and tokens",
          "[service]") {
  const std::set<std::string_view> own = {"/api/1/password", "/api/1/tokens", "/api/1/tokens/{token}"};
  for (const auto& route : service::routes()) {
    CAPTURE(route.method, route.path);
    if (route.path == "/api/1/session")
      CHECK_FALSE(route.needs);
    else if (route.method == "GET")
      CHECK(route.needs);
    else
      CHECK((own.count(route.path) == 1 || (route.needs && *route.needs != service::Right::look)));
  }
}

TEST_CASE("routes: no method of a path stands there twice", "[service]") {
  std::set<std::pair<std::string_view, std::string_view>> seen;
  for (const auto& route : service::routes()) CHECK(seen.insert({route.method, route.path}).second);
}
