// SPDX-License-Identifier: Apache-2.0
#include "core/service/api.hpp"

#include <boost/json.hpp>
#include <set>

#include "tests/core/service/harness.hpp"

using namespace eyelevel;
using test::Daemon;
namespace json = boost::json;

TEST_CASE("api: no two routes are the same, and each has a sentence", "[service]") {
  std::set<std::string> seen;
  for (const auto& route : service::routes()) {
    CHECK(seen.insert(std::string(route.method) + std::string(route.path)).second);
    CHECK_FALSE(route.about.empty());
    CHECK(route.handle != nullptr);
  }
}

TEST_CASE("api: what is not there, and what is not done there, is a problem that says what would be right",
          "[service]") {
  Daemon daemon;
  daemon.run_alone([](Daemon& d) -> task<> {
    const auto none = co_await d.ask("GET", "/api/1/nothing");
    CHECK(none.status == 404);
    CHECK(none.type == "application/problem+json");
    const auto wrong = co_await d.ask("DELETE", "/api/1/benches");
    CHECK(wrong.status == 405);
    CHECK(json::parse(wrong.body).at("advice").as_string() == "use GET");
    CHECK((co_await d.ask("GET", "/api/1/benches/none")).status == 404);
    CHECK((co_await d.ask("POST", "/nothing")).status == 405);
  });
}

TEST_CASE("api: a body that is no JSON object is refused, whatever the route", "[service]") {
  Daemon daemon;
  daemon.run_alone([](Daemon& d) -> task<> {
    for (const std::string body : {"{", "[]", "1", "{\"a\":1}}", "\xff"}) {
      CAPTURE(body);
      CHECK((co_await d.ask("POST", "/api/1/jobs", body)).status == 400);
    }
    const std::string deep(5000, '[');
    CHECK((co_await d.ask("POST", "/api/1/jobs", deep)).status == 400);
  });
}

TEST_CASE("api: every answer forbids framing, sniffing and loading from elsewhere", "[service]") {
  Daemon daemon;
  daemon.run_alone([](Daemon& d) -> task<> {
    for (const std::string path : {"/api/1", "/nothing"}) {
      const auto response = co_await d.ask("GET", path);
      std::map<std::string, std::string> headers(response.headers.begin(), response.headers.end());
      CHECK(headers["Content-Security-Policy"].find("frame-ancestors 'none'") != std::string::npos);
      CHECK(headers["X-Content-Type-Options"] == "nosniff");
    }
  });
}

TEST_CASE("api: the page's files are served by name, the first one at the root, none else", "[service]") {
  Daemon daemon;
  service::Api api(
      daemon.house, daemon.access, daemon.rehearsals, daemon.retention, daemon.owners, "eyelevel 0",
      {{"index.html", {"text/html; charset=utf-8", "<!doctype html>"}}, {"page.js", {"text/javascript", "x"}}});
  daemon.api = std::make_unique<service::Api>(api);
  daemon.run_alone([](Daemon& d) -> task<> {
    const auto root = co_await d.ask("GET", "/");
    CHECK(root.status == 200);
    CHECK(root.type == "text/html; charset=utf-8");
    CHECK((co_await d.ask("GET", "/page.js")).body == "x");
    CHECK((co_await d.ask("GET", "/other.js")).status == 404);
  });
}

TEST_CASE("api: a feed is refused where there is none, from another site, and with a position that is none",
          "[service]") {
  Daemon daemon;
  service::http::Request request;
  request.method = "GET";
  request.path = "/api/1/benches/" + daemon.bench.file.name + "/feed";
  request.headers = {{"host", "127.0.0.1:8470"}, {"upgrade", "websocket"}};
  service::http::Response refused;
  CHECK(daemon.api->feed(request, refused));
  request.query = {{"run", "2030-01-07-1"}, {"after", "12x"}};
  CHECK_FALSE(daemon.api->feed(request, refused));
  CHECK(refused.status == 400);
  request.query.clear();
  request.headers["origin"] = "http://elsewhere.example";
  CHECK_FALSE(daemon.api->feed(request, refused));
  CHECK(refused.status == 403);
  request.headers["origin"] = "http://127.0.0.1:8470";
  CHECK(daemon.api->feed(request, refused));
  request.path = "/api/1/benches/none/feed";
  CHECK_FALSE(daemon.api->feed(request, refused));
  CHECK(refused.status == 404);
}
