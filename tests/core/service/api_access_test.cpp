// SPDX-License-Identifier: Apache-2.0
#include <boost/json.hpp>
#include <catch2/catch.hpp>
#include <set>

#include "core/base/error.hpp"
#include "tests/core/service/harness.hpp"

using namespace eyelevel;
using service::Rights;
using test::Daemon;
namespace json = boost::json;
using Headers = std::map<std::string, std::string>;

namespace {

constexpr const char* password = "four words of mine";

std::string cookie_in(const service::http::Response& response) {
  for (const auto& [name, value] : response.headers)
    if (name == "Set-Cookie") return value.substr(0, value.find(';'));
  return {};
}

task<Headers> signed_in(Daemon& d, std::string name, std::string with = password) {
  const auto body = json::serialize(json::object{{"name", name}, {"password", with}});
  const auto response = co_await d.ask("POST", "/api/1/session", body);
  if (response.status != 200) throw std::runtime_error(response.body);
  co_return Headers{{"cookie", cookie_in(response)}};
}

task<int> status(Daemon& d, std::string method, std::string path, std::string body, Headers as) {
  co_return (co_await d.ask(std::move(method), std::move(path), std::move(body), std::move(as))).status;
}

task<json::value> got(Daemon& d, std::string path, Headers as) {
  co_return json::parse((co_await d.ask("GET", std::move(path), "", std::move(as))).body);
}

// A daemon where everybody signs in, one user for each set of rights.
void closed(const std::function<task<>(Daemon&)>& script) {
  Daemon daemon;
  daemon.access.set_policy({.is_open = false, .is_secure = true, .port = 8470});
  daemon.run([&](Daemon& d) -> task<> {
    co_await d.access.add_user("admin", Rights::all(), password);
    for (const std::string one : {"look", "operate", "change", "administer"})
      co_await d.access.add_user("may-" + one, *Rights::read(one), password);
    co_await script(d);
  });
}

// A path of that pattern.
std::string filled(std::string_view pattern) {
  std::string path(pattern);
  for (const auto& [part, value] : std::map<std::string, std::string>{{"{bench}", "test%20bench"},
                                                                      {"{job}", "1"},
                                                                      {"{run}", "2030-01-07-1"},
                                                                      {"{event}", "1"},
                                                                      {"{sheet}", "sheet.png"},
                                                                      {"{user}", "somebody"},
                                                                      {"{token}", "1"},
                                                                      {"{seat}", "1"},
                                                                      {"{rehearsal}", "1"}})
    if (const auto at = path.find(part); at != std::string::npos) path.replace(at, part.size(), value);
  return path;
}

}  // namespace

TEST_CASE("api access: without signing in nothing is told and nothing done, on any route", "[service]") {
  closed([](Daemon& d) -> task<> {
    int asked = 0;
    for (const auto& route : service::routes()) {
      CAPTURE(route.path, route.method);
      if (!route.needs) continue;
      const auto response = co_await d.ask(std::string(route.method), filled(route.path));
      CHECK(response.status == 401);
      const auto same = co_await d.ask("HEAD", filled(route.path));
      if (route.method == "GET") CHECK(same.status == 401);
      ++asked;
    }
    CHECK(asked > 30);
    CHECK(d.ledger.audit(0, 10).empty());
  });
}

TEST_CASE("api access: each route is open to its right and to no other one", "[service]") {
  closed([](Daemon& d) -> task<> {
    std::map<std::string, Headers> as;
    for (const std::string one : {"look", "operate", "change", "administer"})
      as[one] = co_await signed_in(d, "may-" + one);
    for (const auto& route : service::routes()) {
      if (!route.needs) continue;
      for (const auto& [right, headers] : as) {
        CAPTURE(route.path, route.method, right);
        // With a body that no route takes: what is open goes on to find that, or what is missing.
        const auto response =
            co_await d.ask(std::string(route.method), filled(route.path), R"({"nothing": 1})", headers);
        const bool is_refused = response.body.find("may not") != std::string::npos && response.status == 403;
        CHECK(is_refused == (service::name_of(*route.needs) != right));
      }
    }
  });
}

TEST_CASE("api access: a feed wants the right to look, and ends when the session does", "[service]") {
  closed([](Daemon& d) -> task<> {
    service::http::Request request;
    request.method = "GET";
    request.path = "/api/1/benches/test bench/feed";
    request.headers = {{"host", "bench.lan"}, {"upgrade", "websocket"}};
    d.api->serves_loopback(false);
    service::http::Response refused;
    CHECK_FALSE(d.api->feed(request, refused));
    CHECK(refused.status == 401);
    const auto headers = co_await signed_in(d, "may-look");
    request.headers.insert(headers.begin(), headers.end());
    const auto feed = d.api->feed(request, refused);
    REQUIRE(feed);
    test::Collected seen;
    const auto mark = d.access.caller_of(request).mark;
    co_await d.access.sign_out(mark);
    bool is_cut = false;
    try {
      co_await feed(seen);
    } catch (const std::exception&) {
      is_cut = true;
    }
    CHECK(is_cut);
    CHECK(seen.all.empty());
  });
}

TEST_CASE("api access: only who stands at the bench answers there", "[service]") {
  closed([](Daemon& d) -> task<> {
    auto operating = co_await signed_in(d, "may-operate");
    const auto admin = co_await signed_in(d, "admin");
    const std::string job = R"({"bench": "test bench", "sequence": "asking.yaml"})";
    CHECK(co_await status(d, "POST", "/api/1/jobs", job, operating) == 201);
    const auto question = co_await d.until_asked();
    const auto answer = json::serialize(json::object{{"question", question}, {"answer", "done"}, {"by", "else"}});
    const std::string path = "/api/1/benches/test%20bench/answer";
    CHECK(co_await status(d, "POST", path, answer, operating) == 403);
    CHECK(co_await status(d, "POST", path, answer, admin) == 403);
    CHECK(co_await status(d, "POST", "/api/1/benches/test%20bench/go-on", "", operating) == 403);

    const auto made = co_await d.ask("POST", "/api/1/seats", R"({"bench": "test bench", "name": "the tablet"})", admin);
    CHECK(made.status == 201);
    operating["cookie"] += "; " + cookie_in(made);
    CHECK((co_await got(d, "/api/1/session", operating)).at("seat") == "test bench");
    CHECK(co_await status(d, "POST", "/api/1/benches/test%20bench/go-on", "", operating) == 409);
    CHECK(co_await status(d, "POST", path, answer, operating) == 204);
    CHECK(co_await status(d, "POST", "/api/1/benches/test%20bench/stop", "", operating) == 204);
    CHECK(d.jobs->find(1).asked_by == "may-operate");

    CHECK(co_await status(d, "DELETE", "/api/1/seats/1", "", admin) == 204);
    CHECK((co_await got(d, "/api/1/session", operating)).at("seat") == "");
    CHECK(co_await status(d, "POST", "/api/1/seats", R"({"bench": "nowhere"})", admin) == 422);
  });
}

TEST_CASE("api access: a visit from signing in to signing out", "[service]") {
  closed([](Daemon& d) -> task<> {
    CHECK((co_await got(d, "/api/1/session", {})).at("signing_in") == "needed");
    CHECK(co_await status(d, "POST", "/api/1/session", R"({"name": "admin", "password": "wrong"})", {}) == 401);
    const auto admin = co_await signed_in(d, "admin");
    const auto session = co_await got(d, "/api/1/session", admin);
    CHECK(session.at("user") == "admin");
    CHECK(session.at("rights").as_array().size() == 4);

    const auto added =
        co_await d.ask("POST", "/api/1/users",
                       R"({"name": "new-one", "password": "words as many as needed", "rights": ["look"]})", admin);
    CHECK(added.status == 201);
    const auto as_new = co_await signed_in(d, "new-one", "words as many as needed");
    const std::string other = R"({"old": "words as many as needed", "password": "other words of mine"})";
    CHECK(co_await status(d, "POST", "/api/1/password", other, as_new) == 204);
    CHECK(co_await status(d, "POST", "/api/1/password", other, as_new) == 422);
    CHECK(co_await status(d, "PATCH", "/api/1/users/new-one", R"({"rights": ["look", "change"]})", admin) == 204);
    CHECK((co_await got(d, "/api/1/session", as_new)).at("rights").as_array().size() == 2);
    CHECK(co_await status(d, "PATCH", "/api/1/users/new-one", "{}", admin) == 422);
    CHECK(co_await status(d, "PATCH", "/api/1/users/new-one", R"({"rights": ["all"]})", admin) == 422);
    CHECK(co_await status(d, "DELETE", "/api/1/users/new-one", "", admin) == 204);
    CHECK((co_await got(d, "/api/1/session", as_new)).at("user") == "");
    CHECK((co_await got(d, "/api/1/users", admin)).at("users").as_array().size() == 5);

    CHECK(co_await status(d, "DELETE", "/api/1/session", "", admin) == 204);
    CHECK(co_await status(d, "GET", "/api/1/users", "", admin) == 401);
  });
}

TEST_CASE("api access: a token speaks for its user with the rights it was given", "[service]") {
  closed([](Daemon& d) -> task<> {
    const auto admin = co_await signed_in(d, "admin");
    const auto looking = co_await signed_in(d, "may-look");
    const auto make = [&](std::string body, Headers as) { return d.ask("POST", "/api/1/tokens", body, as); };
    CHECK((co_await make(R"({"name": "n", "rights": ["change"], "days": 1})", looking)).status == 403);
    CHECK((co_await make(R"({"name": "n", "rights": ["look"], "days": 0})", looking)).status == 422);
    CHECK((co_await make(R"({"name": "n", "rights": [], "days": 9})", looking)).status == 422);
    const auto made = co_await make(R"({"name": "figures", "rights": ["look"], "days": 30})", admin);
    REQUIRE(made.status == 201);
    const auto answer = json::parse(made.body);
    const Headers by_token{{"authorization", "Bearer " + std::string(answer.at("token").as_string())}};
    CHECK(co_await status(d, "GET", "/metrics", "", by_token) == 200);
    CHECK(co_await status(d, "GET", "/api/1/users", "", by_token) == 403);
    CHECK(
        (co_await d.ask("POST", "/api/1/tokens", R"({"name": "n", "rights": ["look"], "days": 9})", by_token)).status ==
        409);
    CHECK((co_await got(d, "/api/1/tokens", looking)).at("tokens").as_array().empty());
    CHECK((co_await got(d, "/api/1/tokens", admin)).at("tokens").as_array().size() == 1);
    CHECK(co_await status(d, "DELETE", "/api/1/tokens/1", "", looking) == 403);
    CHECK(co_await status(d, "DELETE", "/api/1/tokens/1", "", admin) == 204);
    CHECK(co_await status(d, "GET", "/metrics", "", by_token) == 401);
  });
}

TEST_CASE("api access: who changed what stands in the audit, without any password", "[service]") {
  closed([](Daemon& d) -> task<> {
    CHECK(co_await status(d, "POST", "/api/1/session", R"({"name": "admin", "password": "a wrong one"})", {}) == 401);
    const auto admin = co_await signed_in(d, "admin");
    const std::string user = R"({"name": "new-one", "password": "words as many as needed", "rights": ["look"]})";
    CHECK(co_await status(d, "POST", "/api/1/users", user, admin) == 201);
    CHECK(co_await status(d, "POST", "/api/1/benches/test%20bench/stop", "", admin) == 409);
    const auto audit = (co_await got(d, "/api/1/audit", admin)).at("audit").as_array();
    REQUIRE(audit.size() == 4);
    CHECK(audit[0].at("what") == "POST /api/1/benches/test bench/stop");
    CHECK(audit[0].at("status") == 409);
    CHECK(audit[1].at("who") == "admin");
    CHECK(audit[1].at("from") == "192.0.2.1");
    CHECK(audit[1].at("status") == 201);
    CHECK(audit[3].at("what") == "POST /api/1/session");
    CHECK(audit[3].at("status") == 401);
    const auto all = json::serialize(audit);
    CHECK(all.find("words as many") == std::string::npos);
    CHECK(all.find("wrong one") == std::string::npos);
    CHECK(all.find("new-one") != std::string::npos);
    CHECK((co_await got(d, "/api/1/audit?before=3&at_most=1", admin)).at("audit").as_array().size() == 1);
    CHECK(co_await status(d, "GET", "/api/1/audit?before=x", "", admin) == 400);
  });
}

TEST_CASE("api access: at this machine everybody may, and the audit says so", "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    CHECK((co_await got(d, "/api/1/session", {})).at("signing_in") == "not needed");
    co_await d.add_job(Daemon::quiet);
    CHECK((co_await got(d, "/api/1/audit", {})).at("audit").at(0).at("who") == "at this machine");
  });
}
