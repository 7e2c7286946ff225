// SPDX-License-Identifier: Apache-2.0
#include <boost/json.hpp>

#include "tests/core/report/eye_run.hpp"
#include "tests/core/service/harness.hpp"

using namespace eyelevel;
using test::Daemon;
namespace json = boost::json;

TEST_CASE("api: the rules of retention are told, and what came of them", "[service]") {
  Daemon daemon;
  daemon.run_alone([](Daemon& d) -> task<> {
    const auto before = co_await d.get("/api/1/retention");
    CHECK(before.at("rules").at("thin_out_after_days") == 90);
    CHECK(before.at("rules").at("archive_after_days") == 730);
    CHECK(before.at("last").is_null());
    const auto done = co_await d.ask("POST", "/api/1/retention", R"({"dry_run": false, "by": "anna"})");
    CHECK(done.status == 201);
    CHECK((co_await d.get("/api/1/retention")).at("last").at("runs_thinned") == 0);
  });
}

TEST_CASE("api: a dry run of retention changes nothing, not even what came of the last one", "[service]") {
  Daemon daemon;
  daemon.run_alone([](Daemon& d) -> task<> {
    const auto dry = json::parse((co_await d.ask("POST", "/api/1/retention", R"({"dry_run": true})")).body);
    CHECK(dry.at("dry_run") == true);
    CHECK((co_await d.get("/api/1/retention")).at("last").is_null());
    CHECK((co_await d.ask("POST", "/api/1/retention", "{}")).status == 422);
    CHECK((co_await d.ask("POST", "/api/1/retention", R"({"dry_run": "yes"})")).status == 422);
  });
}
