// SPDX-License-Identifier: Apache-2.0
#include <boost/json.hpp>

#include "tests/core/service/harness.hpp"

using namespace eyelevel;
using record::JobState;
using test::Daemon;

namespace {

void with_a_run(const std::function<task<>(Daemon&)>& script) {
  Daemon daemon;
  daemon.add_sequence("measuring.yaml", test::around(test::capture_step));
  daemon.run([&script](Daemon& d) -> task<> {
    co_await d.until_job(co_await d.add_job("measuring.yaml"), JobState::done);
    co_await script(d);
  });
}

}  // namespace

TEST_CASE("api: what all runs say together is told in sentences, with the yields behind them", "[service]") {
  with_a_run([](Daemon& d) -> task<> {
    const auto seen = co_await d.get("/api/1/workshop");
    CHECK_FALSE(seen.at("sentences").as_array().empty());
    const auto& all = seen.at("yield").at("all");
    CHECK(all.at("passed").as_int64() + all.at("failed").as_int64() + all.at("undecided").as_int64() +
              all.at("not_judged").as_int64() ==
          1);
    const auto other = co_await d.get("/api/1/workshop?bench=nowhere");
    CHECK(other.at("yield").at("by_bench").as_array().empty());
  });
}

TEST_CASE("api: the control charts come as a picture", "[service]") {
  with_a_run([](Daemon& d) -> task<> {
    const auto picture = co_await d.ask("GET", "/api/1/workshop/charts.svg");
    CHECK(picture.status == 200);
    CHECK(picture.type == "image/svg+xml");
    CHECK(picture.body.find("<svg") != std::string::npos);
  });
}

TEST_CASE("api: of the workshop, a day that is none, days the wrong way round and an unknown reading are refused",
          "[service]") {
  with_a_run([](Daemon& d) -> task<> {
    CHECK((co_await d.ask("GET", "/api/1/workshop?since=yesterday")).status == 400);
    CHECK((co_await d.ask("GET", "/api/1/workshop?since=2030-02-01&until=2030-01-01")).status >= 400);
    CHECK((co_await d.ask("GET", "/api/1/workshop?reading=jitter")).status == 404);
  });
}
