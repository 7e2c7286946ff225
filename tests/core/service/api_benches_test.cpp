// SPDX-License-Identifier: Apache-2.0
#include <boost/json.hpp>

#include "tests/core/service/harness.hpp"

using namespace eyelevel;
using test::Daemon;
namespace json = boost::json;

namespace {

task<int> post(Daemon& d, std::string what, std::string body = {}) {
  co_return (co_await d.ask("POST", "/api/1/benches/test%20bench/" + what, std::move(body))).status;
}

}  // namespace

TEST_CASE("api: a bench tells what it is, what it does and what it asks", "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    const auto idle = co_await d.get("/api/1/benches/test%20bench");
    CHECK(idle.at("state") == "idle");
    CHECK(idle.at("question").is_null());
    CHECK(idle.at("instruments").as_array().size() == 2);
    co_await d.add_job(Daemon::asking);
    const auto number = co_await d.until_asked();
    const auto asks = (co_await d.get("/api/1/benches")).at("benches").at(0);
    CHECK(asks.at("state") == "waits for start");
    CHECK(asks.at("question").at("number") == number);
    CHECK(asks.at("question").at("start") == true);
    CHECK(asks.at("job").at("serial") == "LF2-00417");
    CHECK(asks.at("sequence").at("sentences").as_array().size() >= 3);
  });
}

TEST_CASE("api: answers and wishes reach the run, or are a conflict when there is none", "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    for (const auto* wish : {"pause", "go-on", "stop", "stop-after-step"}) CHECK(co_await post(d, wish) == 409);
    co_await d.add_job(Daemon::asking);
    auto number = co_await d.until_asked();
    CHECK(co_await post(d, "answer", R"({"question":99,"answer":"done"})") == 409);
    CHECK(co_await post(d, "answer", R"({"question":"1","answer":"done"})") == 422);
    CHECK(co_await post(d, "answer", R"({"answer":"done"})") == 422);
    CHECK(co_await post(d, "answer", fmt::format(R"({{"question":{},"answer":"done","by":"me"}})", number)) == 204);
    co_await d.until("running");
    number = co_await d.until_asked();
    CHECK(co_await post(d, "pause") == 204);
    CHECK(co_await post(d, "pause") == 409);
    CHECK(co_await post(d, "go-on") == 204);
    CHECK(co_await post(d, "stop-after-step") == 204);
    CHECK(co_await post(d, "answer", fmt::format(R"({{"question":{},"answer":"done"}})", number)) == 204);
    co_await d.until("idle");
  });
}

TEST_CASE("api: sequences and models are listed, and a sequence is told in sentences", "[service]") {
  Daemon daemon;
  daemon.run_alone([](Daemon& d) -> task<> {
    d.add_sequence("bad.yaml", "sequence: bad\n");
    const auto sequences = (co_await d.get("/api/1/sequences")).at("sequences").as_array();
    REQUIRE(sequences.size() == 2);  // what does not check is not offered
    CHECK(sequences[0].at("file") == "asking.yaml");
    const auto models = (co_await d.get("/api/1/models")).at("models").as_array();
    REQUIRE(models.size() == 1);
    CHECK(models[0].at("model") == "LF-2");
    const auto told = co_await d.get("/api/1/sequences/sentences?file=asking.yaml");
    CHECK(told.at("asked").as_array().size() == 2);
    CHECK((co_await d.ask("GET", "/api/1/sequences/sentences?file=../records.db")).status == 404);
    CHECK((co_await d.ask("GET", "/api/1/sequences/sentences")).status == 400);
    CHECK((co_await d.ask("GET", "/api/1/sequences/sentences?file=bad.yaml")).status == 422);
  });
}

TEST_CASE("api: the daemon tells its name and its benches", "[service]") {
  Daemon daemon;
  daemon.run_alone([](Daemon& d) -> task<> {
    const auto about = co_await d.get("/api/1");
    CHECK(about.at("program") == "eyelevel 0");
    CHECK(about.at("benches") == json::array{"test bench"});
    CHECK((co_await d.get("/api/1/openapi.json")).at("openapi") == "3.1.0");
  });
}

TEST_CASE("api: the bench files are read anew, and what is wrong with them is told", "[service]") {
  Daemon daemon;
  daemon.run_alone([](Daemon& d) -> task<> {
    CHECK((co_await d.ask("POST", "/api/1/reload")).status == 409);
    int read = 0;
    d.api->reloads_by([&read] { ++read; });
    CHECK((co_await d.ask("POST", "/api/1/reload")).status == 204);
    CHECK(read == 1);
    d.api->reloads_by([] { throw base::Error(base::ErrorCode::bad_input, "bench.yaml: no kind", "mend it"); });
    const auto refused = co_await d.ask("POST", "/api/1/reload");
    CHECK(refused.status == 422);
    CHECK(refused.body.find("bench.yaml: no kind") != std::string::npos);
  });
}
