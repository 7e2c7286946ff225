// SPDX-License-Identifier: Apache-2.0
#include <boost/json.hpp>

#include "tests/core/service/harness.hpp"
#include "tests/support/number.hpp"

using namespace eyelevel;
using record::JobState;
using test::Daemon;
namespace json = boost::json;

namespace {

void with_a_run(const std::function<task<>(Daemon&, std::string)>& script) {
  Daemon daemon;
  daemon.add_sequence("measuring.yaml", test::around(test::capture_step));
  daemon.run([&script](Daemon& d) -> task<> {
    const auto job = co_await d.add_job("measuring.yaml");
    co_await d.until_job(job, JobState::done);
    co_await script(d, d.jobs->find(job).run);
  });
}

}  // namespace

TEST_CASE("api: runs are found by unit, sequence and bench", "[service]") {
  with_a_run([](Daemon& d, std::string run) -> task<> {
    const auto runs = (co_await d.get("/api/1/runs?serial=LF2-00417&bench=test%20bench")).at("runs").as_array();
    REQUIRE(runs.size() == 1);
    CHECK(runs[0].at("run").as_string() == run);
    CHECK((co_await d.get("/api/1/runs?serial=LF2-00418")).at("runs").as_array().empty());
    CHECK((co_await d.ask("GET", "/api/1/runs?at_most=0")).status == 400);
    CHECK((co_await d.ask("GET", "/api/1/runs?at_most=1e9")).status == 400);
  });
}

TEST_CASE("api: a run tells how it ended in a sentence, and its events from a number on", "[service]") {
  with_a_run([](Daemon& d, std::string run) -> task<> {
    const auto unit = co_await d.get("/api/1/runs/" + run);
    CHECK(unit.at("ended") == "finished");
    CHECK(unit.at("sentence").as_string().starts_with("Finished"));
    CHECK(unit.at("captures").as_array().size() >= 16);
    const auto all = (co_await d.get("/api/1/runs/" + run + "/events")).at("events").as_array();
    const auto some = (co_await d.get("/api/1/runs/" + run + "/events?after=3")).at("events").as_array();
    CHECK(some.size() + 3 == all.size());
    CHECK(some[0].at("number") == 4);
    CHECK((co_await d.ask("GET", "/api/1/runs/" + run + "/events?after=-1")).status == 400);
    CHECK((co_await d.ask("GET", "/api/1/runs/1999-01-01-1")).status == 404);
  });
}

TEST_CASE("api: a capture comes as .npy with its scale, the sheet as picture and document", "[service]") {
  with_a_run([](Daemon& d, std::string run) -> task<> {
    const auto unit = co_await d.get("/api/1/runs/" + run);
    const auto event = unit.at("captures").at(0).at("event").as_int64();
    const auto npy = co_await d.ask("GET", fmt::format("/api/1/runs/{}/captures/{}.npy", run, event));
    CHECK(npy.status == 200);
    CHECK(npy.body.substr(1, 5) == "NUMPY");
    std::map<std::string, std::string> headers(npy.headers.begin(), npy.headers.end());
    CHECK(test::point_number(headers["Eyelevel-Scale-V"]) > 0);
    CHECK((co_await d.ask("GET", fmt::format("/api/1/runs/{}/captures/1.npy", run))).status == 404);
    CHECK((co_await d.ask("GET", fmt::format("/api/1/runs/{}/captures/x.npy", run))).status == 404);
    CHECK((co_await d.ask("GET", fmt::format("/api/1/runs/{}/sheet.png", run))).body.substr(1, 3) == "PNG");
    CHECK((co_await d.ask("GET", fmt::format("/api/1/runs/{}/sheet.pdf", run))).body.starts_with("%PDF"));
    CHECK((co_await d.ask("GET", fmt::format("/api/1/runs/{}/sheet.gif", run))).status == 404);
    CHECK((co_await d.ask("GET", fmt::format("/api/1/runs/{}/other", run))).status == 404);
  });
}
