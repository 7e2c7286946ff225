// SPDX-License-Identifier: Apache-2.0
#include <boost/json.hpp>

#include "core/base/error.hpp"
#include "tests/core/service/harness.hpp"

using namespace eyelevel;
using test::Daemon;
namespace json = boost::json;

namespace {

// Until each instrument was asked after `begun`.
task<> until_asked(Daemon& d, base::UtcTime begun) {
  const auto is_asked = [&](const auto& entry) {
    const auto* health = d.owner->health(entry.role);
    return health != nullptr && health->asked >= begun && (health->trouble || health->seen == health->asked);
  };
  const auto& list = d.owner->bench().instruments;
  while (!std::all_of(list.begin(), list.end(), is_asked)) co_await d.owner->feed().changed();
}

task<json::value> instrument(Daemon& d, std::string role) {
  const auto bench = co_await d.get("/api/1/benches/test%20bench");
  for (const auto& one : bench.at("instruments").as_array())
    if (one.at("role").as_string() == role) co_return one.at("health");
  throw std::logic_error("no such role");
}

}  // namespace

TEST_CASE("health: of an instrument that nobody has asked nothing is known, and asked it says who it is", "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    co_await d.until("idle");
    CHECK((co_await instrument(d, "scope")).is_null());
    const auto begun = d.house.timeline.utc();
    CHECK((co_await d.ask("POST", "/api/1/benches/test%20bench/ask-instruments")).status == 204);
    co_await until_asked(d, begun);
    const auto health = co_await instrument(d, "scope");
    CHECK(health.at("answers") == true);
    CHECK(health.at("identity") == "Fake,Scope,SN 12,1.0");
    CHECK(health.at("seen_utc") == health.at("asked_utc"));
    CHECK(health.at("trouble").is_null());
    CHECK(d.owner->state() == service::BenchState::idle);
  });
}

TEST_CASE("health: one that is silent is told with why, and when it answered last", "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    co_await d.until("idle");
    CHECK(d.owner->ask_instruments());
    co_await until_asked(d, d.house.timeline.utc());
    const auto seen = d.owner->health("scope")->seen;
    co_await d.house.timeline.sleep(std::chrono::minutes(5));
    d.bench.calls.fail_at = 1;
    d.bench.calls.fail_more = 1000;
    const auto begun = d.house.timeline.utc();
    CHECK(d.owner->ask_instruments());
    co_await until_asked(d, begun);
    const auto health = co_await instrument(d, "scope");
    CHECK(health.at("answers") == false);
    CHECK(health.at("trouble").at("message") == "no answer within 1 s");
    CHECK(d.owner->health("scope")->seen == seen);
  });
}

TEST_CASE("health: one that reports an error of its own does answer", "[service]") {
  Daemon daemon;
  daemon.bench.calls.fail_at = 1;
  daemon.bench.calls.fail_more = 1000;
  daemon.bench.calls.fail_with = base::ErrorCode::instrument_error;
  daemon.run([](Daemon& d) -> task<> {
    co_await d.until("idle");
    CHECK(d.owner->ask_instruments());
    co_await until_asked(d, d.house.timeline.utc());
    const auto health = co_await instrument(d, "scope");
    CHECK(health.at("answers") == true);
    CHECK_FALSE(health.at("trouble").is_null());
  });
}

TEST_CASE("health: while a job is under way no instrument is asked, and the run tells who it met", "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    co_await d.add_job(Daemon::asking);
    co_await d.until_asked();
    CHECK((co_await d.ask("POST", "/api/1/benches/test%20bench/ask-instruments")).status == 409);
    CHECK(d.bench.calls.made == 0);
    CHECK(d.owner->stop_now());
    const auto job = co_await d.add_job(Daemon::quiet);
    co_await d.until_job(job, record::JobState::done);
    REQUIRE(d.owner->health("scope") != nullptr);
    CHECK(d.owner->health("scope")->identity == "Fake,Scope,SN 12,1.0");
  });
}

TEST_CASE("health: the last proof of the bench is told with its age, and that there is none", "[service]") {
  Daemon daemon;
  const auto now = daemon.house.timeline.utc();
  daemon.run([](Daemon& d) -> task<> {
    co_await d.until("idle");
    while (!d.owner->proof()) co_await d.owner->feed().changed();
    CHECK((co_await d.get("/api/1/benches/test%20bench")).at("proof").at("run").is_null());
  });
  Daemon proven;
  event::Begun begun;
  begun.bench = "test bench";
  begun.proves = "bench";
  const auto run = proven.store->reserve_run(now);
  const std::vector<event::Event> events{{run, 1, 0, now, begun},
                                         {run, 2, 1, now, event::Closed{"finished", metrology::Judgement::pass}}};
  proven.store->write(run, events);
  proven.run([&run](Daemon& d) -> task<> {
    co_await d.until("idle");
    while (!d.owner->proof()) co_await d.owner->feed().changed();
    const auto proof = (co_await d.get("/api/1/benches/test%20bench")).at("proof");
    CHECK(proof.at("run").as_string() == run);
    CHECK(proof.at("old") == false);
    co_await d.house.timeline.sleep(std::chrono::hours(24 * 400));
    CHECK((co_await d.get("/api/1/benches/test%20bench")).at("proof").at("old") == true);
  });
}
