// SPDX-License-Identifier: Apache-2.0
#include <boost/json.hpp>

#include "tests/core/service/harness.hpp"

using namespace eyelevel;
using test::Daemon;
namespace json = boost::json;

TEST_CASE("api: a rehearsal is asked for, and its result is there when it is over", "[service]") {
  Daemon daemon;
  daemon.run_alone([](Daemon& d) -> task<> {
    CHECK((co_await d.get("/api/1/troubles")).at("troubles").as_array().size() == 1);
    const auto begun =
        co_await d.ask("POST", "/api/1/rehearsals", R"({"sequence":"quiet.yaml","units":5,"troubles":["disc dirty"]})");
    REQUIRE(begun.status == 201);
    CHECK(json::parse(begun.body).at("rehearsal") == 1);
    json::value shown;
    do shown = co_await d.get("/api/1/rehearsals/1");
    while (shown.at("state") == "under way");
    CHECK(shown.at("state") == "over");
    CHECK(shown.at("done") == 5);
    CHECK(shown.at("result").at("sequence") == "quiet.yaml");
    CHECK((co_await d.ask("DELETE", "/api/1/rehearsals/1")).status == 204);
  });
}

TEST_CASE("api: whoever asks for a rehearsal that cannot be learns why at once", "[service]") {
  Daemon daemon;
  daemon.run_alone([](Daemon& d) -> task<> {
    d.add_sequence("bad.yaml", "sequence: bad\nabout: bad\nsteps:\n  - shout: hello\n");
    const std::pair<const char*, int> wrong[] = {
        {R"({})", 422},
        {R"({"sequence":"bad.yaml"})", 422},
        {R"({"sequence":"none.yaml"})", 404},
        {R"({"sequence":"../records.db"})", 404},
        {R"({"sequence":"quiet.yaml","model":"none.yaml"})", 404},
        {R"({"sequence":"quiet.yaml","units":0})", 422},
        {R"({"sequence":"quiet.yaml","units":501})", 422},
        {R"({"sequence":"quiet.yaml","seed":-1})", 422},
        {R"({"sequence":"quiet.yaml","trouble_rate":1.5})", 422},
        {R"({"sequence":"quiet.yaml","trouble_rate":"often"})", 422},
        {R"({"sequence":"quiet.yaml","troubles":["disc eaten"]})", 422},
    };
    for (const auto& [body, status] : wrong) {
      CAPTURE(body);
      CHECK((co_await d.ask("POST", "/api/1/rehearsals", body)).status == status);
    }
    CHECK((co_await d.ask("GET", "/api/1/rehearsals/1")).status == 404);
    CHECK((co_await d.ask("GET", "/api/1/rehearsals/one")).status == 404);
  });
}
