// SPDX-License-Identifier: Apache-2.0
#include <boost/json.hpp>
#include <cstdlib>
#include <fstream>
#include <iterator>

#include "tests/core/service/harness.hpp"

using namespace eyelevel;
using record::JobState;
using test::Daemon;
namespace json = boost::json;

namespace {

task<service::http::Response> add(Daemon& d, std::string body) { return d.ask("POST", "/api/1/jobs", std::move(body)); }

}  // namespace

TEST_CASE("api: whoever asks for a job learns of every mistake at once, and nothing is added", "[service]") {
  Daemon daemon;
  daemon.run_alone([](Daemon& d) -> task<> {
    d.add_sequence("bad.yaml", "sequence: bad\nabout: bad\nsteps:\n  - shout: hello\n  - whisper: hello\n");
    d.add_sequence("other/wide.yaml", test::around_outputs("  - note: x\n"));
    const std::pair<const char*, int> wrong[] = {
        {R"({"bench":"test bench"})", 422},
        {R"({"bench":"none","sequence":"quiet.yaml"})", 422},
        {R"({"bench":"test bench","sequence":"none.yaml"})", 404},
        {R"({"bench":"test bench","sequence":"/etc/passwd"})", 404},
        {R"({"bench":"test bench","sequence":"../sequences/quiet.yaml"})", 201},  // leads back into the folder
        {R"({"bench":"test bench","sequence":"../records.db"})", 404},
        {R"({"bench":"test bench","sequence":"quiet.yaml","model":"none.yaml"})", 404},
        {R"({"bench":"test bench","sequence":"quiet.yaml","set":{"target":"1 V"}})", 422},
        {R"({"bench":"test bench","sequence":"quiet.yaml","priority":"high"})", 422},
        {R"({"bench":"test bench","sequence":"quiet.yaml","seriall":"x"})", 422},
        {R"({"bench":"test bench","sequence":"other/wide.yaml"})", 422},  // no such instruments here
    };
    for (const auto& [body, status] : wrong) {
      CAPTURE(body);
      CHECK((co_await add(d, body)).status == status);
    }
    const auto bad = co_await add(d, R"({"bench":"test bench","sequence":"bad.yaml"})");
    CHECK(bad.status == 422);
    CHECK(bad.body.find("shout") != std::string::npos);
    CHECK(bad.body.find("whisper") != std::string::npos);
    CHECK(d.jobs->list({}).size() == 1);
  });
}

TEST_CASE("api: jobs are listed by bench and state, moved and withdrawn while they wait", "[service]") {
  Daemon daemon;
  daemon.run_alone([](Daemon& d) -> task<> {
    const auto first = co_await d.add_job(Daemon::quiet, "A");
    const auto second = co_await d.add_job(Daemon::quiet, "B");
    const auto path = "/api/1/jobs/" + std::to_string(second);
    CHECK((co_await d.ask("PATCH", path, R"({"priority":3})")).status == 200);
    const auto listed = (co_await d.get("/api/1/jobs?state=waiting&bench=test%20bench")).at("jobs").as_array();
    REQUIRE(listed.size() == 2);
    CHECK(listed[0].at("id") == second);
    CHECK((co_await d.ask("DELETE", path)).status == 204);
    CHECK((co_await d.ask("DELETE", path)).status == 409);
    CHECK((co_await d.ask("PATCH", path, R"({"priority":3})")).status == 409);
    CHECK((co_await d.get(path)).at("state") == "withdrawn");
    CHECK((co_await d.get("/api/1/jobs?bench=none")).at("jobs").as_array().empty());
    CHECK((co_await d.ask("GET", "/api/1/jobs?state=lost")).status == 400);
    CHECK((co_await d.ask("GET", "/api/1/jobs/999")).status == 404);
    CHECK((co_await d.ask("GET", "/api/1/jobs/first")).status == 404);
    CHECK(d.jobs->find(first).state == JobState::waiting);
  });
}

TEST_CASE("api: an interrupted job is closed once, and its record then has an end", "[service]") {
  Daemon daemon;
  const auto job = daemon.left_in_the_middle(true, true, false);
  daemon.run([job](Daemon& d) -> task<> {
    co_await d.until_job(job, JobState::interrupted);
    const auto path = "/api/1/jobs/" + std::to_string(job);
    CHECK((co_await d.ask("POST", path + "/resume")).status == 422);  // it came to no step that says so
    CHECK((co_await d.ask("POST", path + "/close")).status == 204);
    CHECK((co_await d.ask("POST", path + "/close")).status == 409);
    const auto run = d.store->run(d.jobs->find(job).run);
    CHECK(run.ended == "stopped");
    CHECK(d.jobs->find(job).state == JobState::done);
  });
}

TEST_CASE("api: an interrupted job is resumed at the step that it had come to", "[service]") {
  Daemon daemon;
  std::int64_t job = 0;
  daemon.run([&job](Daemon& d) -> task<> {
    job = co_await d.add_job(Daemon::asking);
    d.owner->person().answer(co_await d.until_asked(), "done", "");
    co_await d.until("running");
    const auto first = co_await d.until_asked();
    d.owner->person().answer(first, "done", "");
    while (!d.owner->person().open() || d.owner->person().open()->number == first) co_await d.owner->feed().changed();
  });
  REQUIRE(daemon.jobs->find(job).state == JobState::interrupted);
  daemon.owner = std::make_unique<service::BenchOwner>(
      daemon.house, service::BenchSetting{.bench = daemon.bench.file, .open = [&](const bench::InstrumentEntry& e) {
                                            return daemon.bench.open(e);
                                          }});
  daemon.owners = {daemon.owner.get()};
  daemon.api = std::make_unique<service::Api>(daemon.house, daemon.access, daemon.rehearsals, daemon.retention,
                                              daemon.owners, "eyelevel 0", service::Page{});
  daemon.run([job](Daemon& d) -> task<> {
    const auto response = co_await d.ask("POST", "/api/1/jobs/" + std::to_string(job) + "/resume");
    REQUIRE(response.status == 201);
    const auto next = json::parse(response.body).at("id").as_int64();
    d.owner->person().answer(co_await d.until_asked(), "done", "");
    co_await d.until("running");
    const auto second = co_await d.until_asked();
    CHECK(d.owner->person().open()->question.text == "Is the lens clean?");
    d.owner->person().answer(second, "yes", "");
    co_await d.until_job(next, JobState::done);
    CHECK(d.store->run(d.jobs->find(next).run).ended == "finished");
    CHECK(d.jobs->find(job).why == "resumed by job " + std::to_string(next));
  });
}

TEST_CASE("api: a job that names no bench is done by one that fits it", "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    d.add_sequence("other/wide.yaml", test::around_outputs("  - note: x\n"));
    const auto unfit =
        json::parse((co_await add(d, R"({"sequence":"other/wide.yaml","priority":3})")).body).at("id").as_int64();
    const auto response = co_await add(d, R"({"sequence":"quiet.yaml"})");
    REQUIRE(response.status == 201);
    CHECK(json::parse(response.body).at("bench").as_string().empty());
    const auto job = json::parse(response.body).at("id").as_int64();
    co_await d.until_job(job, JobState::done);
    CHECK(d.jobs->find(job).bench == "test bench");
    CHECK(d.jobs->find(unfit).state == JobState::waiting);
  });
}

TEST_CASE("api: the run of a bench that is another daemon's is not closed here", "[service]") {
  Daemon daemon;
  daemon.run_alone([](Daemon& d) -> task<> {
    record::Job job;
    job.bench = "another bench";
    job.sequence = Daemon::quiet;
    const auto id = d.jobs->add(job);
    REQUIRE(d.jobs->take("another bench", [](const record::Job&) { return true; },
                         {d.house.timeline.utc(), std::chrono::hours(1)}));
    d.jobs->put(id, JobState::interrupted, "the power went");
    for (const std::string what : {"/close", "/resume"}) {
      const auto response = co_await d.ask("POST", "/api/1/jobs/" + std::to_string(id) + what);
      CHECK(response.status == 409);
      CHECK(response.body.find("belongs to another daemon") != std::string::npos);
    }
    CHECK(d.jobs->find(id).state == JobState::interrupted);
  });
}

namespace {

// The sheet of the example, with a visit of its own.
void prepare_visit(const Daemon& d, const std::string& sequence) {
  std::ifstream example("examples/models/lf-2.yaml");
  std::string text((std::istreambuf_iterator<char>(example)), {});
  text = text.substr(0, text.find("visit:"));
  std::ofstream(d.house.models / "lf-2.yaml")
      << text << "visit: { serials begin with: [ LF2- ], sequence: " << sequence << " }\n";
}

task<service::http::Response> scan(Daemon& d, std::string serial) {
  return d.ask("POST", "/api/1/benches/test%20bench/scan",
               json::serialize(json::object{{"serial", serial}, {"by", "me"}}));
}

}  // namespace

TEST_CASE("api: a serial number that is scanned at an idle bench prepares that model's sequence, which a person starts",
          "[service]") {
  Daemon daemon;
  prepare_visit(daemon, Daemon::asking);
  daemon.run([](Daemon& d) -> task<> {
    co_await d.until("idle");
    const auto response = co_await scan(d, "LF2-00417");
    CHECK(response.status == 201);
    const auto job = json::parse(response.body);
    CHECK(job.at("sequence") == Daemon::asking);
    CHECK(job.at("model") == "lf-2.yaml");
    CHECK(job.at("serial") == "LF2-00417");
    CHECK(job.at("asked_by") == "me");
    co_await d.until("waits for start");
    CHECK(d.owner->job()->id == job.at("id").as_int64());
    CHECK(d.owner->run().empty());
    CHECK((co_await scan(d, "LF2-00418")).status == 409);  // the bench is not idle any more
  });
}

TEST_CASE("api: a scanner that reads twice prepares one job", "[service]") {
  Daemon daemon;
  prepare_visit(daemon, Daemon::asking);
  daemon.run_alone([](Daemon& d) -> task<> {
    CHECK((co_await scan(d, "LF2-00417")).status == 201);
    CHECK((co_await scan(d, "LF2-00417")).status == 409);
    CHECK((co_await scan(d, "LF2-00418")).status == 201);
    CHECK(d.jobs->list({}).size() == 2);
  });
}

TEST_CASE("api: a serial number of no known model, or a visit that cannot be run, prepares nothing and says why",
          "[service]") {
  Daemon daemon;
  prepare_visit(daemon, "none.yaml");
  daemon.run_alone([](Daemon& d) -> task<> {
    const auto unknown = co_await scan(d, "ZZ-1");
    CHECK(unknown.status == 422);
    CHECK(unknown.body.find("LF2- (lf-2.yaml)") != std::string::npos);
    CHECK((co_await scan(d, "")).status == 422);
    CHECK((co_await scan(d, "LF2-1")).status == 404);  // its sequence is not there
    CHECK((co_await d.ask("POST", "/api/1/benches/none/scan", R"({"serial":"LF2-1"})")).status == 404);
    CHECK((co_await d.ask("POST", "/api/1/benches/test%20bench/scan", R"({"code":"LF2-1"})")).status == 422);
    CHECK(d.jobs->list({}).empty());
  });
}

TEST_CASE("api: schedules are listed with their next moment", "[service]") {
  ::setenv("TZ", "UTC", 1);
  Daemon daemon;
  service::Schedule morning;
  morning.name = "morning";
  morning.minute = 7 * 60 + 5;
  morning.on = {true, true, false, false, false, false, false};
  morning.job.bench = "test bench";
  morning.job.sequence = Daemon::quiet;
  morning.job.given = {{"target", "1.20 V"}};
  service::Api api(daemon.house, daemon.access, daemon.rehearsals, daemon.retention, daemon.owners, "eyelevel 0",
                   service::Page{}, {morning});
  daemon.run_alone([&api](Daemon&) -> task<> {
    service::http::Request request{.method = "GET",
                                   .path = "/api/1/schedules",
                                   .query = {},
                                   .headers = {{"host", "127.0.0.1:1"}},
                                   .body = {},
                                   .peer = {}};
    const auto response = co_await api.answer(request);
    const auto list = json::parse(response.body).at("schedules").as_array();
    REQUIRE(list.size() == 1);
    CHECK(list[0].at("at") == "07:05");
    CHECK(list[0].at("on") == json::array({"monday", "sunday"}));
    CHECK(list[0].at("set").at("target") == "1.20 V");
    // Simulated time begins on a Monday, 2030-01-07 at 08:00.
    CHECK(list[0].at("next_due_utc") == "2030-01-13T07:05:00.000Z");
  });
  ::unsetenv("TZ");
}

TEST_CASE("api: one job is stopped by its number, and no other", "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    const auto first = co_await d.add_job(Daemon::asking, "A");
    co_await d.until_asked();
    const auto second = co_await d.add_job(Daemon::asking, "B");
    const auto stop = [](std::int64_t job) { return "/api/1/jobs/" + std::to_string(job) + "/stop"; };
    CHECK((co_await d.ask("POST", stop(second))).status == 409);  // it waits
    CHECK((co_await d.ask("POST", stop(999))).status == 404);
    CHECK(d.owner->job()->id == first);
    CHECK((co_await d.ask("POST", stop(first))).status == 204);
    co_await d.until_job(first, JobState::withdrawn);
    co_await d.until_asked();
    CHECK((co_await d.ask("POST", stop(first))).status == 409);  // too late: the next one goes on
    CHECK(d.owner->job()->id == second);
  });
}
